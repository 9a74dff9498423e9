"""Hold a studio's rows, files and hashes against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sqlalchemy import select

from evenhand.domain.studio import StudioTake
from evenhand.errors import StudioDamaged
from evenhand.storage.kept import Kept
from evenhand.storage.recordings import is_sound
from evenhand.storage.rows import columns_of, value_of
from evenhand.storage.tables import takes


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
