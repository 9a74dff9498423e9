"""Students, their devices, and how they are erased.

Erase a student from the databases that were set aside, too.

A restore and a repair set the old database aside for a month. One that can be read loses the student's
rows; one that cannot is removed, for nobody can say what is still in it.

What is assigned: the weeks of each student, and the studio's book of exercises.

What the teacher types into a week's form, kept before it is saved or sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from evenhand.errors import CannotKeep, NotFound
from evenhand.studio.store.access import forget_about, new_id
from evenhand.studio.store.database import Database
from evenhand.studio.store.kept import Kept
from evenhand.studio.store.layout import DATABASE, DATABASE_FILES
from evenhand.studio.store.recordings import SetAside
from evenhand.studio.store.tables import (
    book,
    check_fields,
    check_text,
    columns_of,
    devices,
    drafts,
    sessions,
    students,
    studio,
    takes,
    value_of,
    values_of,
    weeks,
)
from evenhand.studio.values import BookEntry, Device, Student, Week, WeekDraft


def erase_aside(aside: SetAside, student_id: str) -> None:
    """Erase a student from every database that was set aside."""
    for folder, _n, _until in aside.folders():
        if (folder / DATABASE).is_file() and not _erased(folder / DATABASE, student_id):
            for name in DATABASE_FILES:
                (folder / name).unlink(missing_ok=True)


def _erased(place: Path, student_id: str) -> bool:
    """Delete a student's rows and every trace in a database's files; False where it cannot be read."""
    database = Database(URL.create("sqlite", database=str(place)))
    try:
        with database.writing() as connection:
            connection.execute(delete(students).where(students.c.id == student_id))
        return database.scrub()
    except (SQLAlchemyError, CannotKeep):
        return False
    finally:
        database.close()


_FIXED = frozenset({"id", "created_at"})


class People(Kept):
    """The studio's students."""

    def students(self, *, archived: bool = False) -> list[Student]:
        """List the students who come, by name; or, asked for, only those who are archived."""
        query = select(*columns_of(students, Student)).where(students.c.archived == archived)
        with self._database.reading() as connection:
            found = [value_of(Student, row) for row in connection.execute(query).mappings()]
        return sorted(found, key=lambda student: (student.name.casefold(), student.id))

    def student(self, id: str) -> Student | None:  # noqa: A002 - the contract's word
        """Find a student, archived or not."""
        with self._database.reading() as connection:
            return _found(connection, id)

    def add_student(self, name: str, *, stage: str = "rebound", **fields: Any) -> Student:  # noqa: ANN401 - any field
        """Take a student in."""
        check_fields(Student, fields, fixed=_FIXED)
        student = self._new_student(name, stage=stage, **fields)
        with self._database.writing() as connection:
            connection.execute(insert(students).values(**values_of(student)))
        self._label_student(student)
        return student

    def _new_student(self, name: str, *, stage: str = "rebound", **fields: Any) -> Student:  # noqa: ANN401 - the same
        return Student(id=new_id(), name=name, stage=stage, created_at=self._now(), **fields)

    def change_student(self, id: str, **fields: Any) -> Student:  # noqa: A002, ANN401 - the contract's word; any field
        """Change what is known of a student. Who is archived is out: the sessions end, the links rest."""
        check_fields(Student, fields, fixed=_FIXED)
        with self._database.writing() as connection:
            student = _found(connection, id)
            if student is None:
                raise NotFound(what="this student")
            changed = replace(student, **fields)
            connection.execute(update(students).where(students.c.id == id).values(**values_of(changed)))
            if changed.archived:
                connection.execute(delete(sessions).where(sessions.c.student_id == id))
            self._label_student(changed)  # before it is committed: no erasing comes between
        return changed

    def erase_student(self, id: str) -> None:  # noqa: A002 - the contract's word
        """Erase a student: every row, label and recording, and every trace in the database's files.

        Recordings that were set aside go too; one that somebody else played from stays theirs.
        Were the power to go in the middle, the rest is done when the studio is opened next.
        """
        with self._database.alone() as connection:
            rows = connection.execute(
                select(takes.c.recording, takes.c.original).where(takes.c.student_id == id)
            )
            keys = [key for row in rows for key in row]
            if connection.execute(delete(students).where(students.c.id == id)).rowcount == 0:
                raise NotFound(what="this student")
            forget_about(connection, id)
            connection.execute(update(studio).values(scrub_due=True))
            keys = self._labels.student_goes(id, keys)
        self._drop_unnamed(keys)
        self._labels.remove_student(id)
        self._sweep_parts()
        erase_aside(self._recordings.aside, id)
        self._scrub()

    def devices(self, student_id: str) -> list[Device]:
        """List a student's devices, by label."""
        query = select(*columns_of(devices, Device)).where(devices.c.student_id == student_id)
        with self._database.reading() as connection:
            found = [value_of(Device, row) for row in connection.execute(query).mappings()]
        return sorted(found, key=lambda device: (device.label.casefold(), device.id))

    def save_device(self, device: Device) -> Device:
        """Keep a device, new or changed; without an id it gets one. It stays its student's."""
        device = replace(device, id=device.id or new_id())
        mine = (devices.c.id == device.id) & (devices.c.student_id == device.student_id)
        with self._database.writing() as connection:
            if _found(connection, device.student_id) is None:
                raise NotFound(what="this student")
            if connection.execute(update(devices).where(mine).values(**values_of(device))).rowcount == 0:
                if connection.scalar(select(devices.c.id).where(devices.c.id == device.id)) is not None:
                    raise NotFound(what="this student's device")
                connection.execute(insert(devices).values(**values_of(device)))
        return device

    def _label_student(self, student: Student) -> None:
        """Write a student's label anew; were there no room for it, the old one would do."""
        with suppress(CannotKeep):
            self._labels.write_student(student)

    def _scrub(self) -> None:
        """Clean the database's files of what was erased, and note that it is done."""
        if self._database.scrub():
            with self._database.writing() as connection:
                connection.execute(update(studio).values(scrub_due=False))

    def _finish_erasing(self) -> None:
        """Do the rest of an erasing that was broken off."""
        with self._database.reading() as connection:
            due = connection.scalar(select(studio.c.scrub_due))
        if due:
            self._finish_going()
            self._scrub()


def _found(connection: Connection, student_id: str) -> Student | None:
    query = select(*columns_of(students, Student)).where(students.c.id == student_id)
    row = connection.execute(query).mappings().first()
    return None if row is None else value_of(Student, row)


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


LAST_STAMP = 2**31 - 1


class Typed(Kept):
    """The studio's forms that were typed into."""

    def drafts(self, student_id: str) -> list[WeekDraft]:
        """List what was typed for a student and not saved, newest first."""
        query = select(*columns_of(drafts, WeekDraft))
        query = query.where(drafts.c.student_id == student_id, drafts.c.form != "")
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(drafts.c.changed_at.desc(), drafts.c.id)).mappings()
            return [value_of(WeekDraft, row) for row in rows]

    def keep_draft(
        self, student_id: str, of_week: str, form: str, *, page: str = "", stamp: int = 0
    ) -> WeekDraft | None:
        """Keep what was typed, over what was typed before; None where the same page sent something later."""
        draft = WeekDraft(student_id, of_week, form, self._now(), page, min(stamp, LAST_STAMP))
        check_text(values_of(draft))
        with self._database.alone() as connection:
            return draft if _put(connection, draft) else None

    def drop_draft(self, student_id: str, of_week: str, *, page: str = "") -> None:
        """Forget what was typed; nothing that the same page sent before brings it back."""
        self.keep_draft(student_id, of_week, "", page=page, stamp=LAST_STAMP)


def _put(connection: Connection, draft: WeekDraft) -> bool:
    """Write a draft, unless a later one of the same page is there."""
    here = (drafts.c.student_id == draft.student_id) & (drafts.c.of_week == draft.of_week)
    there = connection.execute(select(drafts.c.page, drafts.c.stamp).where(here)).first()
    if there is None:
        try:
            connection.execute(insert(drafts).values(id=new_id(), **values_of(draft)))
        except IntegrityError:  # no such student
            raise NotFound(what="this student") from None
        return True
    if draft.page and there.page == draft.page and there.stamp > draft.stamp:
        return False
    connection.execute(update(drafts).where(here).values(**values_of(draft)))
    return True
