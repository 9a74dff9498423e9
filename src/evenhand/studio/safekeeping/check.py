"""Hold a studio's rows, files and hashes against each other.

Put right what a check finds, as far as the files know it.

Conventions: nothing is deleted here. A recording that no take names becomes a take again: with what its
label knows, or, where it has none, as a take of the student ``FOUND_AGAIN``, with its file's time. Its
facts say ``found_again`` and the day; it waits to be heard. Done twice, it does no more than done once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.errors import StudioDamaged
from evenhand.studio.safekeeping.form import Progress, quiet
from evenhand.studio.safekeeping.scrub import Notes, bad_keys
from evenhand.studio.store.access import new_id
from evenhand.studio.store.labels import Label
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import said, select_of, students, takes, values_of, weeks
from evenhand.studio.store.takes import FOUND_FACT
from evenhand.studio.values import Said, Student, StudioTake


@dataclass(frozen=True, slots=True)
class Unsound:
    """A take, or something spoken, whose recording is missing on the disk, or damaged."""

    take: StudioTake | Said
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


def check_studio(studio: Studio, progress: Progress = quiet, notes: Notes | None = None) -> Checked:
    """Compare rows, files and hashes; nothing is changed.

    With ``notes`` it goes on where one that was broken off was.

    Raises
    ------
    StudioDamaged
        The database itself does not hold together.
    """
    hold_together(studio)
    data, every = studio.data, _every_take(studio)
    bad = bad_keys(data, _named(_every_row(studio)), progress, notes)
    unsound = [
        Unsound(each, key, damaged=bad[key])
        for each in _every_row(studio)
        for key in dict.fromkeys(_keys_of(each))
        if key in bad
    ]
    kept = list(data.recordings.kept_keys())
    return Checked(
        takes=len(every),
        recordings=len(kept),
        n_bytes=sum(map(data.recordings.size_of, kept)),
        unsound=tuple(unsound),
        left=tuple(_left(studio)),
        aside=tuple(data.recordings.aside.folders()),
    )


def without_take(studio: Studio) -> int:
    """Count the recordings, set aside ones too, of which a repair would make takes."""
    return len(_left(studio))


def hold_together(studio: Studio) -> None:
    """Look through the database itself.

    Raises
    ------
    StudioDamaged
        Naming the first fault.
    """
    database = studio.data.database
    wrong = database.faults()
    if wrong:
        raise StudioDamaged(where=database.where, got=wrong)


def _every_take(studio: Studio) -> list[StudioTake]:
    """List all takes, the oldest first, without what was heard."""
    query = select_of(StudioTake, without="heard").order_by(takes.c.received_at)
    return studio.data.values(StudioTake, query)


def _all_spoken(studio: Studio) -> list[Said]:
    """List all that was spoken."""
    return studio.data.values(
        Said, select_of(Said).where(said.c.recording.is_not(None)).order_by(said.c.said_at)
    )


def _every_row(studio: Studio) -> list[StudioTake | Said]:
    """List all that names a recording."""
    return [*_every_take(studio), *_all_spoken(studio)]


def _keys_of(each: StudioTake | Said) -> list[str]:
    """List the recordings that a row names."""
    keys = [each.recording, each.original] if isinstance(each, StudioTake) else [each.recording]
    return [key for key in keys if key is not None]


def _named(every: Iterable[StudioTake | Said]) -> Iterator[str]:
    """Walk the recordings that rows name."""
    return (key for each in every for key in _keys_of(each))


def _left(studio: Studio) -> list[str]:
    """List recordings, set aside ones too, that are no known row's."""
    data, every = studio.data, _every_row(studio)
    ids = {each.id for each in every}
    known = {key for each in every for key in _keys_of(each)}
    labels = (*data.labels.all_takes(), *data.labels.all_said())
    known |= {key for label in labels if label.row["id"] in ids for key in label.keys}
    return sorted(data.recordings.all_keys() - known)


FOUND_AGAIN = "Found again"
_NOTES = "Recordings that were found again and do not say whose they are. Listen, and see whose they may be."
_WAITS = {"status": "waiting", "progress": 0.0, "tried": 0, "reason": None}


@dataclass(frozen=True, slots=True)
class Repaired:
    """What was put right: takes made again, those of them without a label, takes given their recording."""

    found: int
    nobodys: int
    mended: int


def repair_studio(studio: Studio, progress: Progress = quiet) -> Repaired:
    """Make takes of recordings that have none, and give takes the recording that is theirs."""
    return _Repair(studio).run(progress)


class _Repair:
    """A studio that is being put right."""

    def __init__(self, studio: Studio) -> None:
        self._studio, self._data = studio, studio.data

    def run(self, progress: Progress) -> Repaired:
        """Do all of it."""
        self._data.finish_going()
        labels = {label.row["id"]: label for label in self._data.labels.all_takes()}
        mended = self._mend(labels, progress)
        known = {take.id for take in _every_take(self._studio)}
        found = sum(self._found(label) for take_id, label in labels.items() if take_id not in known)
        spoken = {each.id for each in _all_spoken(self._studio)}
        for label in self._data.labels.all_said():
            if label.row["id"] not in spoken:
                self._found_said(label)
        nobodys = sum(self._found_bare(key) for key in self._bare())
        self._data.label_all()
        return Repaired(found + nobodys, nobodys, mended)

    def _mend(self, labels: Mapping[str, Label], progress: Progress) -> int:
        """Give takes their recording back: one that was set aside, or another of their own."""
        every = _every_take(self._studio)
        bad = bad_keys(self._data, _named(every), progress)
        back = {key for key in bad if self._data.recordings.bring_back(key)}
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
        with self._data.database.alone() as connection:
            key = next((key for key in keys if self._is_whole(key)), None)
            if key is not None:
                connection.execute(update(takes).where(takes.c.id == take.id).values(recording=key))
        return key is not None

    def _found(self, label: Label) -> bool:
        """Make a take again of what its label knows; False where no recording of it is left."""
        with self._data.database.alone() as connection:
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

    def _found_said(self, label: Label) -> None:
        """Let something spoken be there again, with its take or week where that is."""
        with self._data.database.alone() as connection:
            if not any(map(self._is_whole, label.keys)):
                return
            about = {
                f"{name}_id": self._there(connection, table, label.row[f"{name}_id"])
                for name, table in (("take", takes), ("week", weeks))
            }
            owner = self._owner(connection, label.row["student_id"])
            connection.execute(insert(said).values(**{**label.row, **about, "student_id": owner}))

    def _there(self, connection: Connection, table: Table, row_id: str | None) -> str | None:
        """Return a row's id where there is such a row."""
        return connection.scalar(select(table.c.id).where(table.c.id == row_id)) if row_id else None

    def _found_bare(self, key: str) -> bool:
        """Make a take of a recording that nothing is known of but its bytes and its time."""
        with self._data.database.alone() as connection:
            if not self._is_whole(key):
                return False
            when = self._data.recordings.written_at(key)
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
        there = self._data.recordings.all_keys()  # before the labels are read
        labels = (*self._data.labels.all_takes(), *self._data.labels.all_said())
        labelled = {key for label in labels for key in label.keys}
        return sorted(there - labelled - self._data.named_keys())

    def _is_whole(self, key: str) -> bool:
        """Tell whether a recording is here and whole, taken back from what was set aside if need be."""
        return self._data.recordings.is_sound(key) or self._data.recordings.bring_back(key)

    def _owner(self, connection: Connection, student_id: str) -> str:
        """Say whose a take is: its student's, made again of the label if need be."""
        if connection.scalar(select(students.c.id).where(students.c.id == student_id)) is not None:
            return student_id
        row = self._data.labels.all_students().get(student_id)
        if row is None:
            return self._nobody(connection)
        connection.execute(insert(students).values(**row))
        return student_id

    def _nobody(self, connection: Connection) -> str:
        """Say whose recordings are that nobody is known to have played."""
        there = connection.scalar(select(students.c.id).where(students.c.name == FOUND_AGAIN))
        if there is not None:
            return str(there)
        student = Student(new_id(), FOUND_AGAIN, "rebound", self._data.now(), notes=_NOTES)
        connection.execute(insert(students).values(**values_of(student)))
        return student.id

    def _mark(self) -> dict[str, str]:
        return {FOUND_FACT: self._data.now().date().isoformat()}


def _inserted(connection: Connection, row: Mapping[str, Any]) -> bool:
    """Write a take's row; False where the same take is here under another id: it was sent twice."""
    try:
        with connection.begin_nested():
            connection.execute(insert(takes).values(**row))
    except IntegrityError:
        return False
    return True
