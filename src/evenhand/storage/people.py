"""Students, their devices, and how they are erased."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from evenhand.domain.studio import Device, Student
from evenhand.errors import CannotKeep, NotFound
from evenhand.storage.acts import forget_about
from evenhand.storage.erasing_aside import erase_aside
from evenhand.storage.kept import Kept
from evenhand.storage.rows import check_fields, columns_of, value_of, values_of
from evenhand.storage.secrets_kept import new_id
from evenhand.storage.tables import devices, sessions, students, studio, takes

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
