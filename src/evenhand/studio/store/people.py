"""Students, their devices, and how they are erased."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import URL, delete, insert, inspect, select, update
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from evenhand.errors import CannotKeep, NotFound
from evenhand.studio.store.access import check_student, new_id
from evenhand.studio.store.acts import forget_about
from evenhand.studio.store.data import StudioData, keys_in
from evenhand.studio.store.database import Database
from evenhand.studio.store.layout import DATABASE, DATABASE_FILES
from evenhand.studio.store.places.aside import SetAside
from evenhand.studio.store.tables import (
    acts,
    check_fields,
    devices,
    links,
    select_of,
    sessions,
    students,
    studio,
    value_by_id,
    values_of,
)
from evenhand.studio.values import TEACHER, Device, Student

_FIXED = frozenset({"id", "created_at"})
EVERYBODY = "All students"  # as the teacher's own takes for them are headed


class Students:
    """The studio's students and their devices."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def all(self, *, archived: bool | None = False) -> list[Student]:
        """List the students who come, by name; or only those who are archived, or (None) all."""
        query = select_of(Student).where(students.c.id != TEACHER)
        if archived is not None:
            query = query.where(students.c.archived == archived)
        found = self._data.values(Student, query)
        return sorted(found, key=lambda student: (student.name.casefold(), student.id))

    def find(self, student_id: str) -> Student | None:
        """Find a student, archived or not."""
        with self._data.database.reading() as connection:
            return value_by_id(connection, Student, student_id)

    def get(self, student_id: str) -> Student:
        """Find a student who must be there."""
        student = self.find(student_id)
        if student is None:
            raise NotFound(what="this student")
        return student

    def add(self, name: str, *, stage: str = "rebound", **fields: Any) -> Student:  # noqa: ANN401 - any field
        """Take a student in."""
        check_fields(Student, fields, fixed=_FIXED)
        student = Student(id=new_id(), name=name, stage=stage, created_at=self._data.now(), **fields)
        self._data.execute(insert(students).values(**values_of(student)))
        self._label(student)
        return student

    def teacher(self) -> Student:
        """Return who the teacher's own takes for all students belong to; nobody of the list."""
        found = self.find(TEACHER)
        if found is not None:
            return found
        own = Student(id=TEACHER, name=EVERYBODY, stage="", created_at=self._data.now())
        with suppress(IntegrityError):  # made at the same moment by another
            self._data.execute(insert(students).values(**values_of(own)))
        self._label(own)
        return self.get(TEACHER)

    def change(self, student_id: str, **fields: Any) -> Student:  # noqa: ANN401 - any field
        """Change what is known of a student. Who is archived has left: sessions and links end at once."""
        check_fields(Student, fields, fixed=_FIXED)
        with self._data.database.writing() as connection:
            student = value_by_id(connection, Student, student_id)
            if student is None:
                raise NotFound(what="this student")
            changed = replace(student, **fields)
            connection.execute(
                update(students).where(students.c.id == student_id).values(**values_of(changed))
            )
            if changed.archived:
                connection.execute(delete(sessions).where(sessions.c.student_id == student_id))
                led = (links.c.student_id == student_id) & links.c.revoked_at.is_(None)
                connection.execute(update(links).where(led).values(revoked_at=self._data.now()))
            self._label(changed)  # before it is committed: no erasing comes between
        return changed

    def erase(self, student_id: str) -> None:
        """Erase a student: every row, label and recording, and every trace in the database's files.

        Recordings that were set aside go too; one that somebody else played from stays theirs.
        Were the power to go in the middle, the rest is done when the studio is opened next.
        """
        data = self._data
        with data.database.alone() as connection:
            keys: list[str] = keys_in(connection, student_id)
            if connection.execute(delete(students).where(students.c.id == student_id)).rowcount == 0:
                raise NotFound(what="this student")
            forget_about(connection, student_id)
            connection.execute(update(studio).values(scrub_due=True))
            keys = data.labels.student_goes(student_id, keys)
        data.drop_unnamed(keys)
        data.labels.remove_student(student_id)
        data.recordings.forget_sent(student_id)
        data.sweep_parts()
        erase_aside(data.recordings.aside, student_id)
        self._scrub()

    def devices(self, student_id: str) -> list[Device]:
        """List a student's devices, by label."""
        found = self._data.values(Device, select_of(Device).where(devices.c.student_id == student_id))
        return sorted(found, key=lambda device: (device.label.casefold(), device.id))

    def save_device(self, device: Device) -> Device:
        """Keep a device, new or changed; without an id it gets one. It stays its student's."""
        device = replace(device, id=device.id or new_id())
        mine = (devices.c.id == device.id) & (devices.c.student_id == device.student_id)
        with self._data.database.writing() as connection:
            check_student(connection, device.student_id)
            if connection.execute(update(devices).where(mine).values(**values_of(device))).rowcount == 0:
                if value_by_id(connection, Device, device.id) is not None:
                    raise NotFound(what="this student's device")
                connection.execute(insert(devices).values(**values_of(device)))
        return device

    def finish_erasing(self) -> None:
        """Do the rest of an erasing that was broken off."""
        if self._data.scalar(select(studio.c.scrub_due)):
            self._data.finish_going()
            self._scrub()

    def _label(self, student: Student) -> None:
        """Write a student's label anew; were there no room for it, the old one would do."""
        with suppress(CannotKeep):
            self._data.labels.write_student(student)

    def _scrub(self) -> None:
        """Clean the database's files of what was erased, and note that it is done."""
        if self._data.database.scrub():
            self._data.execute(update(studio).values(scrub_due=False))


def erase_aside(aside: SetAside, student_id: str) -> None:
    """Erase a student from every database that was set aside.

    A restore and a repair set the old database aside for a month. One that can be read loses the student's
    rows; one that cannot is removed, for nobody can say what is still in it.
    """
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
            if inspect(connection).has_table(acts.name):  # older forms have none
                connection.execute(delete(acts).where(acts.c.about == student_id))
        return database.scrub()
    except (SQLAlchemyError, CannotKeep):
        return False
    finally:
        database.close()
