"""Lessons that are not as usual, holidays, and the secret address of the calendar of lessons.

Conventions: days are on the teacher's own clock; a holiday has both its ends. Of the address's secret only
its SHA-256 is kept; a new address makes the old one lead nowhere.
"""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import delete, insert, select, update

from evenhand.errors import NotFound
from evenhand.studio.store.access import check_student, new_id, new_secret, same, sha256_of
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import holidays, lesson_changes, select_of, studio, values_of
from evenhand.studio.values import Holiday, LessonChange


class Lessons:
    """What is changed about the studio's lessons, and who may read them as a calendar."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def changes(self, student_id: str | None = None) -> list[LessonChange]:
        """List the lessons that are not as usual, of a student or of all, in the order of their days."""
        query = select_of(LessonChange)
        if student_id is not None:
            query = query.where(lesson_changes.c.student_id == student_id)
        return self._data.values(LessonChange, query.order_by(lesson_changes.c.day, lesson_changes.c.id))

    def change(self, change: LessonChange) -> LessonChange:
        """Keep what becomes of a lesson, in the place of what was said of it before."""
        change = replace(change, id=new_id())
        there = (lesson_changes.c.student_id == change.student_id) & (lesson_changes.c.day == change.day)
        with self._data.database.alone() as connection:  # two at once are one after the other
            check_student(connection, change.student_id)
            connection.execute(delete(lesson_changes).where(there))
            connection.execute(insert(lesson_changes).values(**values_of(change)))
        return change

    def as_usual(self, change_id: str) -> None:
        """Let a lesson be as usual again."""
        if self._data.execute(delete(lesson_changes).where(lesson_changes.c.id == change_id)) == 0:
            raise NotFound(what="this change of a lesson")

    def holidays(self) -> list[Holiday]:
        """List all holidays, in the order of their first days."""
        return self._data.values(Holiday, select_of(Holiday).order_by(holidays.c.first, holidays.c.id))

    def add_holiday(self, holiday: Holiday) -> Holiday:
        """Keep a holiday."""
        holiday = replace(holiday, id=new_id())
        with self._data.database.writing() as connection:
            check_student(connection, holiday.student_id)
            connection.execute(insert(holidays).values(**values_of(holiday)))
        return holiday

    def drop_holiday(self, holiday_id: str) -> None:
        """Take a holiday out."""
        if self._data.execute(delete(holidays).where(holidays.c.id == holiday_id)) == 0:
            raise NotFound(what="this holiday")

    def make_feed(self) -> str:
        """Give the calendar a new address: its secret, which nobody can read here again."""
        secret = new_secret()
        self._data.execute(
            update(studio).values(feed_sha256=sha256_of(secret), feed_made_at=self._data.now())
        )
        return secret

    def withdraw_feed(self) -> None:
        """Let the calendar's address lead nowhere."""
        self._data.execute(update(studio).values(feed_sha256=None, feed_made_at=None))

    def is_feed(self, secret: str) -> bool:
        """Tell whether this is the calendar's secret."""
        kept = self._data.scalar(select(studio.c.feed_sha256))
        return kept is not None and same(str(kept), sha256_of(secret))
