"""A student goes to another teacher of the school, with the past or without it: all of it, or nothing.

Conventions: the past is takes, weeks, what was said, drops: every row that is of the student, found by
the tables themselves. Without it, the student comes to the new teacher as they are (name, age, consent,
lesson), and the past stays with the former one, whose student is archived. Private links, sessions and
devices go along either way, so the stand on a phone goes on and what it has not sent yet arrives.

The rows move in one transaction, in which nobody adds or removes a recording of either studio. The
recordings are there before it ends, and go from the former studio after it: broken off anywhere, a take that
is there has its recording, and what no take names any more is set aside by the next sweep.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, delete, insert, select, update

from evenhand.errors import NotFound, WrongOptions
from evenhand.studio.store.data import NAMES
from evenhand.studio.store.school import enter
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import (
    acts,
    columns_of,
    drafts,
    lesson_changes,
    made,
    metadata,
    students,
    takes,
    value_by_id,
    values_of,
)
from evenhand.studio.store.takes import FREE
from evenhand.studio.values import TEACHER, Student

ALWAYS = frozenset({"links", "sessions", "devices", "holidays"})  # with the past or without
NOT_THE_PAST = {"notes": "", "signed_off": ""}  # what the former teacher keeps of a student
_AT_ONCE = 200  # rows inserted together

Rows = Mapping[Table, Sequence[dict[str, Any]]]


def move_student(source: Studio, target: Studio, student_id: str, *, with_past: bool) -> Student:
    """Let a student go from one studio to another of the same school.

    Raises
    ------
    NotFound
        The student is not in the first studio, or has left it.
    WrongOptions
        The student is in the other one already.
    """
    if source.id == target.id or student_id == TEACHER:
        raise WrongOptions(got="a move to where the student is", must_be="another teacher's studio")
    database, keys = source.data.database, list[str]()
    try:
        with database.writing() as connection:
            database.hold(connection, source.id, target.id)
            student = _leaving(connection, student_id)
            rows = _rows(connection, student_id, with_past=with_past)
            keys += sorted(_keys(rows))
            _bring(source, target, keys)
            if with_past:
                source.data.labels.student_goes(student_id, keys)
            _take_out(connection, student_id, with_past=with_past)
            enter(connection, target.id)
            came = student if with_past else _as_new(student)
            _put_in(connection, came, rows)
            enter(connection, source.id)
    except BaseException:
        target.data.drop_unnamed(keys)
        raise
    _tidy(source, target, student, keys, with_past=with_past)
    return came


def rows_of_student(table: Table, student_id: str) -> ColumnElement[bool] | None:
    """Say which rows of a table are a student's; None where none can be."""
    if "student_id" in table.c:
        return table.c.student_id == student_id
    if table is acts:
        return acts.c.about == student_id
    for key in table.foreign_keys:
        if key.column.table is takes:
            return key.parent.in_(select(takes.c.id).where(takes.c.student_id == student_id))
    return None


def _leaving(connection: Connection, student_id: str) -> Student:
    found = value_by_id(connection, Student, student_id)
    if found is None or found.archived:
        raise NotFound(what="this student")
    return found


def _as_new(student: Student) -> Student:
    return Student(**{**values_of(student), **NOT_THE_PAST})


def _rows(connection: Connection, student_id: str, *, with_past: bool) -> Rows:
    """Read all that moves, those first that others lean on."""
    found: dict[Table, Sequence[dict[str, Any]]] = {}
    for table in metadata.sorted_tables:
        which = rows_of_student(table, student_id)
        if which is not None and table is not made and (with_past or table.name in ALWAYS):
            query = select(*columns_of(table)).where(which)
            found[table] = [_free(table, row) for row in connection.execute(query).mappings()]
    return found


def _free(table: Table, row: Mapping[Any, Any]) -> dict[str, Any]:
    """Let what a worker has in hand wait again: that worker looks in the former studio."""
    if row.get("status") != "hearing":
        return dict(row)
    free = {name: nothing for name, nothing in FREE.items() if name in table.c}
    return {**row, "status": "waiting", "progress": 0.0, **free}


def _keys(rows: Rows) -> set[str]:
    return {row[column.name] for column in NAMES for row in rows.get(column.table, ())} - {None}


def _bring(source: Studio, target: Studio, keys: Iterable[str]) -> None:
    """Copy recordings; one that is lost where it was is lost, which a check of either studio says."""
    with source.data.recordings.copies():
        for key in keys:
            place = source.data.recordings.find(key)
            if place is not None:
                target.data.recordings.add(place)


def _take_out(connection: Connection, student_id: str, *, with_past: bool) -> None:
    """Take a student out, and all that is theirs; without the past, the student is archived."""
    if with_past:
        connection.execute(delete(acts).where(acts.c.about == student_id))
        connection.execute(delete(students).where(students.c.id == student_id))
        return
    for table in metadata.sorted_tables:
        if table.name in ALWAYS:
            connection.execute(delete(table).where(table.c.student_id == student_id))
    connection.execute(update(students).where(students.c.id == student_id).values(archived=True))


def _put_in(connection: Connection, student: Student, rows: Rows) -> None:
    """Put a student in, or take one back who was here before."""
    there = value_by_id(connection, Student, student.id)
    if there is None:
        connection.execute(insert(students).values(**values_of(student)))
    elif not there.archived:
        raise WrongOptions(got="a student who is in the other studio already", must_be="one who is not")
    else:
        connection.execute(update(students).where(students.c.id == student.id).values(**values_of(student)))
        for table in (drafts, lesson_changes):  # of which there is one for each week and day
            connection.execute(delete(table).where(table.c.student_id == student.id))
    for table, those in rows.items():
        for start in range(0, len(those), _AT_ONCE):
            connection.execute(insert(table), list(those[start : start + _AT_ONCE]))


def _tidy(source: Studio, target: Studio, student: Student, keys: list[str], *, with_past: bool) -> None:
    """Let go of what the former studio has no more, and label what the other one has now."""
    target.data.count_anew()
    target.data.label_all()
    if with_past:
        source.data.drop_unnamed(keys)
        source.data.labels.remove_student(student.id)
    else:
        source.students.change(student.id, archived=True)
