"""What no take names is set aside, by day, and kept for a month: nothing is deleted at once.

Conventions: a folder is called by its day, ``2026-11-28``, or by its day and why,
``2026-11-28-before-restore``. It goes when its month is over on two different days: a clock that ran
ahead for one evening removes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from evenhand.studio.store.layout import SET_ASIDE
from evenhand.studio.store.places.files import Files, FolderFiles

KEPT_FOR = timedelta(days=30)
KEY = re.compile(r"([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z0-9]{1,5}")
_OVER = "over"  # in a folder whose month is over: the day on which that was seen first
_DATED = re.compile(r"(\d{4}-\d\d-\d\d)(-[a-z0-9-]+)?")


class SetAside:
    """The folder of what was set aside; databases lie in a folder of this disk, wherever recordings lie."""

    def __init__(self, files: Files, folder: Path) -> None:
        self._files, self.folder = files, folder

    def put(self, name: str, key: str, on: date) -> None:
        """Move a recording here."""
        self._files.move(name, f"{SET_ASIDE}/{on.isoformat()}/{key}")

    def room(self, on: date, why: str) -> Path:
        """Make a folder of its own, on this disk, for something larger."""
        for number in range(1, 1000):
            name = f"{on.isoformat()}-{why}" + (f"-{number}" if number > 1 else "")
            if not (self.folder / name).exists():
                break
        (self.folder / name).mkdir(mode=0o700, parents=True)
        return self.folder / name

    def keys(self) -> Iterator[str]:
        """Walk the recordings that no take named; not those of a replaced studio."""
        for files, name, day in self._dated():
            if name == day.isoformat():
                yield from _keys_in(files, name)

    def folders(self) -> list[tuple[Path, int, date]]:
        """List the folders here, how many recordings are in each, and until when it is kept."""
        return [
            (self.folder / name, sum(1 for _ in _keys_in(files, name)), day + KEPT_FOR)
            for files, name, day in self._dated()
        ]

    def find(self, key: str) -> str | None:
        """Find a recording here, by its name."""
        return next(self._names_of(key), None)

    def remove(self, key: str) -> None:
        """Remove a recording for good, wherever it lies here."""
        for name in list(self._names_of(key)):
            self._files.remove(name)

    def sweep(self, today: date) -> int:
        """Remove what has lain here for a month; tell how many folders that were."""
        return sum(_gone(files, name, day, today) for files, name, day in self._dated())

    def _names_of(self, key: str) -> Iterator[str]:
        """Walk the places of a recording, the newest first."""
        for files, name, _day in reversed(self._dated()):
            if files is self._files:
                yield from files.find(f"{SET_ASIDE}/{name}", key)

    def _dated(self) -> list[tuple[Files, str, date]]:
        here = FolderFiles(self.folder.parent)
        own = [] if isinstance(self._files, FolderFiles) else [here]
        found = [
            (files, name, _day_of(name)) for files in (self._files, *own) for name in files.folders(SET_ASIDE)
        ]
        return [(files, name, day) for files, name, day in found if day is not None]


def _keys_in(files: Files, folder: str) -> Iterator[str]:
    """Walk the recordings of a folder, by key."""
    for name in files.names(f"{SET_ASIDE}/{folder}"):
        key = "/".join(name.split("/")[-2:])
        if KEY.fullmatch(key):
            yield key


def _gone(files: Files, folder: str, day: date, today: date) -> bool:
    """Remove a folder whose month is over for the second day."""
    mark = f"{SET_ASIDE}/{folder}/{_OVER}"
    if today <= day + KEPT_FOR:
        files.remove(mark)
        return False
    noted = files.read(mark)
    first = None if noted is None else _day(noted.decode("utf-8", "replace").strip())
    if first is None or first > today:
        files.write(mark, today.isoformat().encode())
        return False
    if first == today:
        return False
    files.remove_all(f"{SET_ASIDE}/{folder}")
    return True


def _day_of(folder: str) -> date | None:
    """Return the day by which a folder is called; None where it is called otherwise."""
    named = _DATED.fullmatch(folder)
    return _day(named[1]) if named else None


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
