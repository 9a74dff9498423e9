"""A folder's recordings taken into a studio as takes, heard after whoever practises.

Conventions: nothing is taken in before every row of the list can be. A take's key is made of the recording's
bytes and of what it is heard as, so a folder that is taken in again brings what is new in it, and no more.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from evenhand.acts.takes.folder import FolderTake
from evenhand.errors import BadList
from evenhand.progress.stages.path import plain_name
from evenhand.studio.safekeeping.form import Progress, quiet
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import NewTake, Student

AT_ONCE = 200  # takes asked for together
ONE_STUDENT = "the whole name of one student as the studio has it, or an id"


def called_so(students: Iterable[Student], called: str) -> list[Student]:
    """List the students of this name, or with this id; capitals and spaces make no difference."""
    return [each for each in students if called == each.id or plain_name(called) == plain_name(each.name)]


def take_in(studio: Studio, takes: Sequence[FolderTake], progress: Progress = quiet) -> tuple[list[str], int]:
    """Take recordings in; give all their takes' ids, and how many are new.

    Raises
    ------
    BadList
        Naming the first row whose student or recording is not there, or may not be taken in.
    """
    students = studio.students.all()
    whose = [_student(each, students) for each in takes]
    ids, new = list[str](), 0
    for done, (each, student) in enumerate(zip(takes, whose, strict=True), start=1):
        path = each.listed.path
        take, is_new = studio.takes.receive(_new_take(each, student), path, original_name=path.name)
        ids.append(take.id)
        new += is_new
        progress(done / len(takes))
    return ids, new


def _student(take: FolderTake, students: Sequence[Student]) -> Student:
    """Find the one student that a row names, who may be recorded; and see that the recording is there."""
    where = f"row {take.listed.row}"
    found = called_so(students, take.student)
    if len(found) != 1:
        named = (
            f"the student {take.student!r}, of whom there are {len(found)}" if take.student else "no student"
        )
        raise BadList(where=where, got=named, must_be=ONE_STUDENT)
    if not found[0].may_record:
        must_be = "one whose parent or guardian agreed, as the student's page says"
        raise BadList(where=where, got=f"{found[0].name}, who is under age", must_be=must_be)
    if not take.listed.path.is_file():
        raise BadList(where=where, got=f"{take.listed.path.name}, which is not there", must_be="a recording")
    return found[0]


def _new_take(take: FolderTake, student: Student) -> NewTake:
    """Say what a row says of its recording; without a moment, that of the file."""
    path, asked = take.listed.path, take.listed.request
    exercise, tempo = asked.exercise_text or "", "" if asked.tempo is None else str(asked.tempo)
    return NewTake(
        student_id=student.id,
        upload_key=f"folder-{_digest(path, exercise, tempo)}",
        exercise=exercise,
        tempo=tempo,
        recorded_at=take.recorded or datetime.fromtimestamp(path.stat().st_mtime, UTC),
        source="upload",
        stroke=take.stroke,
        click=asked.click,
        urgency="batch",
    )


def _digest(path: Path, *asked: str) -> str:
    with path.open("rb") as file:
        found = hashlib.file_digest(file, "sha256")
    found.update("\0".join(asked).encode())
    return found.hexdigest()[:40]


def still_waiting(studio: Studio, ids: Sequence[str]) -> list[str]:
    """List those takes that are still to be heard."""
    return [
        take.id
        for start in range(0, len(ids), AT_ONCE)
        for take in studio.takes.all(ids=ids[start : start + AT_ONCE])
        if take.status in {"waiting", "hearing"}
    ]


def failed_among(studio: Studio, ids: Sequence[str]) -> list[tuple[str, str]]:
    """List those takes that could not be heard: the recording's name, and why."""
    return [
        (take.original_name, take.reason or "")
        for start in range(0, len(ids), AT_ONCE)
        for take in studio.takes.all(ids=ids[start : start + AT_ONCE])
        if take.status == "failed"
    ]
