"""What is assigned: the weeks of each student, and what is typed into a week's form.

What takes a moment to make of a student's takes is kept, too: one text for each student and kind. Its key
names all that it was made of, so one that was made of something else is as good as none.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import date

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError, OperationalError

from evenhand.errors import CannotKeep, NotFound
from evenhand.studio.store.access import new_id
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import check_text, drafts, made, select_of, value_by_id, values_of, weeks
from evenhand.studio.values import Week, WeekDraft

LAST_STAMP = 2**31 - 1
_NEWEST_FIRST = (weeks.c.starts.desc(), weeks.c.created_at.desc(), weeks.c.id)


class Weeks:
    """The students' weeks, and the forms that were typed into before they were saved or sent."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def all(self, student_id: str) -> list[Week]:
        """List a student's weeks, newest first, drafts among them."""
        query = select_of(Week).where(weeks.c.student_id == student_id)
        return self._data.values(Week, query.order_by(*_NEWEST_FIRST))

    def newest_sent(self) -> dict[str, date]:
        """Say of each student who was sent a week when the newest of them begins."""
        query = select(weeks.c.student_id, func.max(weeks.c.starts).label("newest")).where(
            weeks.c.sent_at.is_not(None)
        )
        with self._data.database.reading() as connection:
            rows = connection.execute(query.group_by(weeks.c.student_id))
            return {row.student_id: row.newest for row in rows}

    def find(self, week_id: str) -> Week | None:
        """Find a week."""
        with self._data.database.reading() as connection:
            return value_by_id(connection, Week, week_id)

    def get(self, week_id: str) -> Week:
        """Find a week that must be there."""
        week = self.find(week_id)
        if week is None:
            raise NotFound(what="this week")
        return week

    def save(self, week: Week) -> Week:
        """Keep a week, new or changed; without an id it gets one. It stays its student's."""
        week = replace(week, id=week.id or new_id(), created_at=week.created_at or self._data.now())
        mine = (weeks.c.id == week.id) & (weeks.c.student_id == week.student_id)
        try:
            with self._data.database.writing() as connection:
                if connection.execute(update(weeks).where(mine).values(**values_of(week))).rowcount == 0:
                    connection.execute(insert(weeks).values(**values_of(week)))
        except IntegrityError:  # no such student, or the week is another's
            raise NotFound(what="this student's week") from None
        return week

    def send(self, week_id: str) -> Week:
        """Let the student see a week; sent again, it counts as newer."""
        self._data.execute(update(weeks).where(weeks.c.id == week_id).values(sent_at=self._data.now()))
        return self.get(week_id)

    def drafts(self, student_id: str) -> list[WeekDraft]:
        """List what was typed for a student and not saved, newest first."""
        query = select_of(WeekDraft).where(drafts.c.student_id == student_id, drafts.c.form != "")
        return self._data.values(WeekDraft, query.order_by(drafts.c.changed_at.desc(), drafts.c.id))

    def keep_draft(
        self, student_id: str, of_week: str, form: str, *, page: str = "", stamp: int = 0
    ) -> WeekDraft | None:
        """Keep what was typed, over what was typed before; None where the same page sent something later."""
        draft = WeekDraft(student_id, of_week, form, self._data.now(), page, min(stamp, LAST_STAMP))
        check_text(values_of(draft))
        here = (drafts.c.student_id == student_id) & (drafts.c.of_week == of_week)
        with self._data.database.alone() as connection:
            there = connection.execute(select(drafts.c.page, drafts.c.stamp).where(here)).first()
            if there is not None:
                if page and there.page == page and there.stamp > draft.stamp:
                    return None
                connection.execute(update(drafts).where(here).values(**values_of(draft)))
                return draft
            try:
                connection.execute(insert(drafts).values(id=new_id(), **values_of(draft)))
            except IntegrityError:  # no such student
                raise NotFound(what="this student") from None
        return draft

    def drop_draft(self, student_id: str, of_week: str, *, page: str = "") -> None:
        """Forget what was typed; nothing that the same page sent before brings it back."""
        self.keep_draft(student_id, of_week, "", page=page, stamp=LAST_STAMP)


class Made:
    """What was made of students' takes; nothing is lost with it, since it can be made again."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def find(self, student_id: str, kind: str, key: str) -> str | None:
        """Find what was made of exactly this; None where it must be made."""
        mine = (made.c.student_id == student_id) & (made.c.kind == kind) & (made.c.key == key)
        found: str | None = self._data.scalar(select(made.c.content).where(mine))
        return found

    def keep(self, student_id: str, kind: str, key: str, content: str) -> None:
        """Keep what was made, in the place of the one before; where that cannot be, it is made again."""
        row = {"id": new_id(), "student_id": student_id, "kind": kind, "key": key, "content": content}
        before = (made.c.student_id == student_id) & (made.c.kind == kind)
        with (
            suppress(CannotKeep, IntegrityError, OperationalError),
            self._data.database.writing() as connection,
        ):
            connection.execute(delete(made).where(before))
            connection.execute(insert(made).values(**row))
