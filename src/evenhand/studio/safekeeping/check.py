"""Hold a studio's rows, files and hashes against each other.

Put right what a check finds, as far as the files know it.

Conventions: nothing is deleted here. A recording that no take names becomes a take again: with what its
label knows, or, where it has none, as a take of the student ``FOUND_AGAIN``, with its file's time. Its
facts say ``found_again`` and the day; it waits to be heard. Done twice, it does no more than done once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.errors import StudioDamaged
from evenhand.studio.store.access import new_id
from evenhand.studio.store.kept import Kept
from evenhand.studio.store.labels import Label
from evenhand.studio.store.people import People
from evenhand.studio.store.received import FOUND_FACT
from evenhand.studio.store.recordings import is_sound
from evenhand.studio.store.tables import columns_of, students, takes, value_of, values_of
from evenhand.studio.values import StudioTake


@dataclass(frozen=True, slots=True)
class Unsound:
    """A take whose recording is missing on the disk, or damaged."""

    take: StudioTake
    key: str
    damaged: bool


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found.

    ``left`` are recordings that belong to no take and to no label of one that is here; ``aside`` are the
    folders of what was set aside, with the number of recordings in each and the day until which it is kept.
    """

    takes: int
    recordings: int
    n_bytes: int
    unsound: tuple[Unsound, ...]
    left: tuple[str, ...]
    aside: tuple[tuple[Path, int, date], ...]

    @property
    def is_well(self) -> bool:
        """Tell whether nothing is missing, damaged, or without its take."""
        return not self.unsound and not self.left


class Checks(Kept):
    """How a studio is checked."""

    def check(self, progress: Callable[[float], None] = lambda _done: None) -> Checked:
        """Compare rows, files and hashes; nothing is changed.

        Raises
        ------
        StudioDamaged
            The database itself does not hold together.
        """
        self.hold_together()
        every = self._every_take()
        bad = self._bad_keys(every, progress)
        unsound = [
            Unsound(take, key, damaged=bad[key])
            for take in every
            for key in dict.fromkeys((take.recording, take.original))
            if key is not None and key in bad
        ]
        kept = list(self._recordings.kept_keys())
        return Checked(
            takes=len(every),
            recordings=len(kept),
            n_bytes=sum(_size(self._recordings.path(key)) for key in kept),
            unsound=tuple(unsound),
            left=tuple(self._left(every, kept)),
            aside=tuple(self._recordings.aside.folders()),
        )

    def without_take(self) -> int:
        """Count the recordings, set aside ones too, of which a repair would make takes."""
        return len(self._left(self._every_take(), self._recordings.kept_keys()))

    def hold_together(self) -> None:
        """Look through the database itself.

        Raises
        ------
        StudioDamaged
            Naming the first fault.
        """
        wrong = self._database.faults()
        if wrong:
            raise StudioDamaged(where=self._database.where, got=wrong)

    def _every_take(self) -> list[StudioTake]:
        """List all takes, the oldest first, without what was heard."""
        query = select(*columns_of(takes, StudioTake, without="heard")).order_by(takes.c.received_at)
        with self._database.reading() as connection:
            return [value_of(StudioTake, row) for row in connection.execute(query).mappings()]

    def _bad_keys(self, every: Iterable[StudioTake], progress: Callable[[float], None]) -> dict[str, bool]:
        """Read all recordings that takes name; list those that are missing (False) or damaged (True)."""
        named = sorted({key for take in every for key in (take.recording, take.original) if key})
        bad = dict[str, bool]()
        for done, key in enumerate(named, start=1):
            if not self._recordings.has(key):
                bad[key] = False
            elif not is_sound(self._recordings.path(key), key):
                bad[key] = True
            progress(done / len(named))
        return bad

    def _left(self, every: Iterable[StudioTake], kept: Iterable[str]) -> list[str]:
        """List recordings, set aside ones too, that are no known take's."""
        every = list(every)
        ids = {take.id for take in every}
        known = {key for take in every for key in (take.recording, take.original)}
        known |= {key for label in self._labels.all_takes() if label.row["id"] in ids for key in label.keys}
        there = {*kept, *(each.key for each in self._recordings.aside.walk())}
        return sorted(there - known)


def _size(place: Path) -> int:
    try:
        return place.stat().st_size
    except OSError:
        return 0


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
