"""Put right what a check finds, as far as the files know it.

Conventions: nothing is deleted here. A recording that no take names becomes a take again: with what its
label knows, or, where it has none, as a take of the student ``FOUND_AGAIN``, with its file's time. Its
facts say ``found_again`` and the day; it waits to be heard. Done twice, it does no more than done once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.domain.studio import StudioTake
from evenhand.storage.checking import Checks
from evenhand.storage.labels import Label
from evenhand.storage.people import People
from evenhand.storage.received import FOUND_FACT
from evenhand.storage.recordings import is_sound
from evenhand.storage.rows import values_of
from evenhand.storage.secrets_kept import new_id
from evenhand.storage.tables import students, takes

FOUND_AGAIN = "Found again"
_NOTES = "Recordings that were found again and do not say whose they are. Listen, and see whose they may be."
_WAITS = {"status": "waiting", "progress": 0.0, "tried": 0, "reason": None}


@dataclass(frozen=True, slots=True)
class Repaired:
    """What was put right: takes made again, those of them without a label, takes given their recording."""

    found: int
    nobodys: int
    mended: int


class Repairs(Checks, People):
    """How a studio is put right."""

    def repair(self, progress: Callable[[float], None] = lambda _done: None) -> Repaired:
        """Make takes of recordings that have none, and give takes the recording that is theirs."""
        self._finish_going()
        labels = {label.row["id"]: label for label in self._labels.all_takes()}
        mended = self._mend(labels, progress)
        known = {take.id for take in self._every_take()}
        found = sum(self._found(label) for take_id, label in labels.items() if take_id not in known)
        nobodys = sum(self._found_bare(key) for key in self._bare())
        self._label_all()
        return Repaired(found + nobodys, nobodys, mended)

    def _mend(self, labels: Mapping[str, Label], progress: Callable[[float], None]) -> int:
        """Give takes their recording back: one that was set aside, or another of their own."""
        every = self._every_take()
        bad = self._bad_keys(every, progress)
        back = {key for key in bad if self._recordings.bring_back(key)}
        mended = 0
        for take in every:
            if take.recording in back:
                mended += 1
            elif take.recording in bad:
                others = labels[take.id].keys if take.id in labels else ()
                mended += self._take_other(take, [key for key in others if key not in bad])
        return mended

    def _take_other(self, take: StudioTake, keys: list[str]) -> bool:
        """Let a take name another recording that is its own and whole."""
        with self._database.alone() as connection:
            key = next((key for key in keys if self._is_whole(key)), None)
            if key is not None:
                connection.execute(update(takes).where(takes.c.id == take.id).values(recording=key))
        return key is not None

    def _found(self, label: Label) -> bool:
        """Make a take again of what its label knows; False where no recording of it is left."""
        with self._database.alone() as connection:
            key = next((key for key in label.keys if self._is_whole(key)), None)
            if key is None:
                return False
            original = label.row["original"]
            has_original = original is not None and original != key and self._is_whole(original)
            changes = {
                "student_id": self._owner(connection, label.row["student_id"]),
                "recording": key,
                "original": original if has_original else None,
                "facts": {**label.row["facts"], **self._mark()},
            }
            return _inserted(connection, {**label.row, **_WAITS, **changes})

    def _found_bare(self, key: str) -> bool:
        """Make a take of a recording that nothing is known of but its bytes and its time."""
        with self._database.alone() as connection:
            if not self._is_whole(key):
                return False
            when = datetime.fromtimestamp(self._recordings.path(key).stat().st_mtime, UTC)
            take = StudioTake(
                id=new_id(),
                student_id=self._nobody(connection),
                upload_key=f"found-{Path(key).stem}",
                exercise="",
                tempo="",
                recorded_at=when,
                received_at=when,
                source="upload",
                status="waiting",
                recording=key,
                facts=self._mark(),
            )
            return _inserted(connection, values_of(take))

    def _bare(self) -> list[str]:
        """List recordings that no take and no label names; what comes in meanwhile has its label first."""
        there = {*self._recordings.kept_keys(), *(each.key for each in self._recordings.aside.walk())}
        labelled = {key for label in self._labels.all_takes() for key in label.keys}
        return sorted(there - labelled - self._named_keys())

    def _is_whole(self, key: str) -> bool:
        """Tell whether a recording is here and whole, taken back from what was set aside if need be."""
        here = self._recordings.has(key) and is_sound(self._recordings.path(key), key)
        return here or self._recordings.bring_back(key)

    def _owner(self, connection: Connection, student_id: str) -> str:
        """Say whose a take is: its student's, made again of the label if need be."""
        if connection.scalar(select(students.c.id).where(students.c.id == student_id)) is not None:
            return student_id
        row = self._labels.all_students().get(student_id)
        if row is None:
            return self._nobody(connection)
        connection.execute(insert(students).values(**row))
        return student_id

    def _nobody(self, connection: Connection) -> str:
        """Say whose recordings are that nobody is known to have played."""
        there = connection.scalar(select(students.c.id).where(students.c.name == FOUND_AGAIN))
        if there is not None:
            return str(there)
        student = self._new_student(FOUND_AGAIN, notes=_NOTES)
        connection.execute(insert(students).values(**values_of(student)))
        return student.id

    def _mark(self) -> dict[str, str]:
        return {FOUND_FACT: self._now().date().isoformat()}


def _inserted(connection: Connection, row: Mapping[str, Any]) -> bool:
    """Write a take's row; False where the same take is here under another id: it was sent twice."""
    try:
        with connection.begin_nested():
            connection.execute(insert(takes).values(**row))
    except IntegrityError:
        return False
    return True
