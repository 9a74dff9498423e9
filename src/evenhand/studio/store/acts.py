"""The log of who did what: rows are added, and none is changed but for two reasons.

Conventions: it says ids and classes of addresses, no names and nothing of what was written or recorded. The
id of a student who is erased goes from it, and with it what of theirs it was about. What is older than
``KEPT`` goes, a few rows with each new one, so that a clock that is ahead for an evening costs little; and
there are never more than ``MOST_ACTS``.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta

from sqlalchemy import Connection, delete, func, insert, select, update

from evenhand.errors import DiskFull, ReadOnly
from evenhand.studio.store.access import new_id
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import (
    acts,
    lesson_changes,
    links,
    said,
    select_of,
    sessions,
    students,
    takes,
    values_of,
    weeks,
)
from evenhand.studio.values import Act, ActKind, Actor

KEPT = timedelta(days=365)
MOST_ACTS = 20_000
GO_AT_ONCE = 20
MOST_LETTERS = 100
_OF_STUDENTS = {
    "said": said,
    "take": takes,
    "week": weeks,
    "link": links,
    "session": sessions,
    "change": lesson_changes,
}


class ActLog:
    """Who did what."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def note(self, what: ActKind, who: Actor, *, about: str = "", thing: str = "", address: str = "") -> None:
        """Write down that somebody did something; where the disk cannot keep it, it is done all the same.

        ``about`` is a student's id; that of one who is not there (any more) is not written.
        """
        with suppress(DiskFull, ReadOnly), self._data.database.writing() as connection:
            there = about and connection.scalar(select(students.c.id).where(students.c.id == about))
            texts = (each[:MOST_LETTERS] for each in (there or "", thing, address))
            connection.execute(
                insert(acts).values(id=new_id(), **values_of(Act(self._data.now(), what, who, *texts)))
            )
            self._go(connection)

    def newest(self, limit: int = 200, skip: int = 0) -> list[Act]:
        """List what was done, the newest first."""
        query = select_of(Act).order_by(acts.c.at.desc(), acts.c.id)
        return self._data.values(Act, query.limit(limit).offset(skip))

    def of_student(self, student_id: str) -> list[Act]:
        """List what was done by or about a student, the newest first."""
        query = select_of(Act).where(acts.c.about == student_id)
        return self._data.values(Act, query.order_by(acts.c.at.desc(), acts.c.id))

    def whose(self, kind: str, row_id: str) -> str:
        """Return the id of the student whose take, week, link or session it is; "" where it is nobody's."""
        table = _OF_STUDENTS.get(kind)
        query = None if table is None else select(table.c.student_id).where(table.c.id == row_id)
        return "" if query is None else str(self._data.scalar(query) or "")

    def _go(self, connection: Connection) -> None:
        """Let go of some of the oldest rows that are too old, and of all that are too many."""
        oldest = select(acts.c.id).order_by(acts.c.at, acts.c.id.desc())
        too_old = oldest.where(acts.c.at <= self._data.now() - KEPT).limit(GO_AT_ONCE)
        connection.execute(delete(acts).where(acts.c.id.in_(too_old)))
        many = connection.scalar(select(func.count()).select_from(acts)) or 0
        if many > MOST_ACTS:
            connection.execute(delete(acts).where(acts.c.id.in_(oldest.limit(many - MOST_ACTS))))


def forget_about(connection: Connection, student_id: str) -> None:
    """Take a student who is erased out of the log; that something was done, and when, stays."""
    nothing = {"about": "", "thing": "", "address": ""}
    connection.execute(update(acts).where(acts.c.about == student_id).values(**nothing))
