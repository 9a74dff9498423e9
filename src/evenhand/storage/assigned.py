"""What is assigned: the weeks of each student, and the studio's book of exercises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.domain.studio import BookEntry, Week
from evenhand.errors import NotFound
from evenhand.storage.kept import Kept
from evenhand.storage.rows import columns_of, value_of, values_of
from evenhand.storage.secrets_kept import new_id
from evenhand.storage.tables import book, weeks

_NEWEST_FIRST = (weeks.c.starts.desc(), weeks.c.created_at.desc(), weeks.c.id)


class Assigned(Kept):
    """The studio's weeks and its book."""

    def weeks(self, student_id: str) -> list[Week]:
        """List a student's weeks, newest first, drafts among them."""
        query = select(*columns_of(weeks, Week)).where(weeks.c.student_id == student_id)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(*_NEWEST_FIRST)).mappings()
            return [value_of(Week, row) for row in rows]

    def week(self, id: str) -> Week | None:  # noqa: A002 - the contract's word
        """Find a week."""
        with self._database.reading() as connection:
            row = (
                connection.execute(select(*columns_of(weeks, Week)).where(weeks.c.id == id))
                .mappings()
                .first()
            )
        return None if row is None else value_of(Week, row)

    def save_week(self, week: Week) -> Week:
        """Keep a week, new or changed; without an id it gets one. It stays its student's."""
        week = replace(week, id=week.id or new_id(), created_at=week.created_at or self._now())
        mine = (weeks.c.id == week.id) & (weeks.c.student_id == week.student_id)
        try:
            with self._database.writing() as connection:
                if connection.execute(update(weeks).where(mine).values(**values_of(week))).rowcount == 0:
                    connection.execute(insert(weeks).values(**values_of(week)))
        except IntegrityError:  # no such student, or the week is another's
            raise NotFound(what="this student's week") from None
        return week

    def send_week(self, id: str) -> Week:  # noqa: A002 - the contract's word
        """Let the student see a week; sent again, it counts as newer."""
        with self._database.writing() as connection:
            connection.execute(update(weeks).where(weeks.c.id == id).values(sent_at=self._now()))
        week = self.week(id)
        if week is None:
            raise NotFound(what="this week")
        return week

    def book(self) -> list[BookEntry]:
        """List the book's exercises in their order."""
        query = select(*columns_of(book, BookEntry)).order_by(book.c.position, book.c.id)
        with self._database.reading() as connection:
            return [value_of(BookEntry, row) for row in connection.execute(query).mappings()]

    def save_book(self, entries: Sequence[BookEntry]) -> None:
        """Put these exercises, in this order, in the place of the whole book."""
        rows = [
            values_of(replace(entry, id=entry.id or new_id(), position=position))
            for position, entry in enumerate(entries)
        ]
        with self._database.writing() as connection:
            connection.execute(delete(book))
            if rows:
                connection.execute(insert(book), rows)

    def add_entry(self, text: str, title: str = "", section: str = "") -> BookEntry:
        """Add an exercise at the end of the book."""
        with self._database.writing() as connection:
            last = connection.scalar(select(func.max(book.c.position)))
            entry = BookEntry(new_id(), text, title, section, 0 if last is None else last + 1)
            connection.execute(insert(book).values(**values_of(entry)))
        return entry

    def remove_entry(self, id: str) -> None:  # noqa: A002 - the contract's word
        """Take an exercise out of the book."""
        with self._database.writing() as connection:
            if connection.execute(delete(book).where(book.c.id == id)).rowcount == 0:
                raise NotFound(what="this exercise of the book")
