"""What no take names is set aside, by day, and kept for a month: nothing is deleted at once.

Conventions: a folder is called by its day, ``2026-11-28``, or by its day and why,
``2026-11-28-before-restore``. It goes when its month is over on two different days: a clock that ran
ahead for one evening removes nothing.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

KEPT_FOR = timedelta(days=30)
KEY = re.compile(r"([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z0-9]{1,5}")
_OVER = "over"  # in a folder whose month is over: the day on which that was seen first
_DATED = re.compile(r"(\d{4}-\d\d-\d\d)(-[a-z0-9-]+)?")


@dataclass(frozen=True, slots=True)
class Aside:
    """A recording that was set aside."""

    key: str
    place: Path
    until: date


class SetAside:
    """The folder of what was set aside."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, place: Path, key: str, on: date) -> None:
        """Move a recording here."""
        to = self.folder / on.isoformat() / key
        to.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        place.replace(to)

    def room(self, on: date, why: str) -> Path:
        """Make a folder of its own for something larger."""
        for number in range(1, 1000):
            name = f"{on.isoformat()}-{why}" + (f"-{number}" if number > 1 else "")
            if not (self.folder / name).exists():
                break
        (self.folder / name).mkdir(mode=0o700, parents=True)
        return self.folder / name

    def walk(self) -> Iterator[Aside]:
        """Walk the recordings that no take named, the newest first; not those of a replaced studio."""
        for day, folder in sorted(self._dated(), reverse=True):
            if folder.name == day.isoformat():
                yield from (Aside(key, place, day + KEPT_FOR) for key, place in _in(folder))

    def folders(self) -> list[tuple[Path, int, date]]:
        """List the folders here, how many recordings are in each, and until when it is kept."""
        return [
            (folder, sum(1 for _ in _in(folder)), day + KEPT_FOR) for day, folder in sorted(self._dated())
        ]

    def find(self, key: str) -> Path | None:
        """Find a recording here."""
        found = (folder.rglob(key) for _day, folder in sorted(self._dated(), reverse=True))
        return next((place for places in found for place in places), None)

    def remove(self, key: str) -> None:
        """Remove a recording for good, wherever it lies here."""
        for _day, folder in self._dated():
            for place in list(folder.rglob(key)):
                place.unlink(missing_ok=True)

    def sweep(self, today: date) -> int:
        """Remove what has lain here for a month; tell how many folders that were."""
        return sum(_gone(folder, day, today) for day, folder in list(self._dated()))

    def _dated(self) -> Iterator[tuple[date, Path]]:
        if not self.folder.is_dir():
            return
        for folder in self.folder.iterdir():
            named = _DATED.fullmatch(folder.name)
            day = _day(named[1]) if named else None
            if day is not None and folder.is_dir():
                yield day, folder


def _in(folder: Path) -> Iterator[tuple[str, Path]]:
    """Walk the recordings of a folder, by key."""
    for place in sorted(folder.rglob("??/*")):
        key = f"{place.parent.name}/{place.name}"
        if KEY.fullmatch(key):
            yield key, place


def _gone(folder: Path, day: date, today: date) -> bool:
    """Remove a folder whose month is over for the second day."""
    mark = folder / _OVER
    if today <= day + KEPT_FOR:
        mark.unlink(missing_ok=True)
        return False
    first = _day(mark.read_text("utf-8").strip()) if mark.is_file() else None
    if first is None or first > today:
        mark.write_text(today.isoformat(), "utf-8")
        return False
    if first == today:
        return False
    shutil.rmtree(folder, ignore_errors=True)
    return True


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
