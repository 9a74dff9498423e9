"""Recordings by their content: the same bytes are kept once, and a file is never changed.

Conventions: a key is ``ab/<sha256><suffix>``, a path below the folder whose first two letters are
the hash's. A file is whole or not there: it is written under ``unfinished/``, synced, moved, and
the folder is synced too, so that what was added survives a power cut. The suffix comes from the
bytes; the name that a file had elsewhere is never part of a path. What no take names is set aside
(``SetAside``), never removed at once.

What no take names is set aside, by day, and kept for a month: nothing is deleted at once.

Conventions: a folder is called by its day, ``2026-11-28``, or by its day and why,
``2026-11-28-before-restore``. It goes when its month is over on two different days: a clock that ran
ahead for one evening removes nothing.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from evenhand.errors import DamagedRecording, NotFound
from evenhand.studio.store.layout import SET_ASIDE, disk_errors

KEPT_FOR = timedelta(days=30)
KEY = re.compile(r"([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z0-9]{1,5}")
_OVER = "over"  # in a folder whose month is over: the day on which that was seen first
_DATED = re.compile(r"(\d{4}-\d\d-\d\d)(-[a-z0-9-]+)?")


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

    def keys(self) -> Iterator[str]:
        """Walk the recordings that no take named; not those of a replaced studio."""
        for day, folder in self._dated():
            if folder.name == day.isoformat():
                yield from (key for key, _place in _in(folder))

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


OLD_S = 3600.0  # an unfinished file that old has nobody who writes it
_UNFINISHED = "unfinished"
_AT_ONCE = 1 << 20

_MAGIC: tuple[tuple[int, bytes, str], ...] = (  # offset, bytes there, suffix
    (0, b"fLaC", ".flac"),
    (8, b"WAVE", ".wav"),
    (0, b"OggS", ".ogg"),
    (0, b"\x1aE\xdf\xa3", ".webm"),
    (4, b"ftypM4A", ".m4a"),
    (4, b"ftyp", ".mp4"),
    (0, b"ID3", ".mp3"),
    (0, b"\xff\xfb", ".mp3"),
    (0, b"MThd", ".mid"),
    (0, b"FORM", ".aiff"),
    (0, b"caff", ".caf"),
)


class Recordings:
    """The folder of recordings."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.aside = SetAside(folder.parent / SET_ASIDE)
        self._sizes: dict[str, int] = {}  # a file is never changed

    def make(self) -> None:
        """Make the folder, for its owner's eyes only."""
        with disk_errors(str(self.folder)):
            (self.folder / _UNFINISHED).mkdir(mode=0o700, parents=True, exist_ok=True)
            if self.folder.stat().st_mode & 0o077:
                self.folder.chmod(0o700)

    def add(self, content: bytes | Path) -> str:
        """Keep bytes, or a copy of a file's, and give their key; they are on the disk when it returns."""
        with self.adding(content) as key:
            return key

    @contextmanager
    def adding(self, content: bytes | Path) -> Iterator[str]:
        """Keep bytes at the end of a block that knows their key already: it can label them first."""
        with self.unfinished() as place:
            digest, head = _written(content, place)
            key = f"{digest[:2]}/{digest}{_suffix(head)}"
            yield key
            self._settle(place, key)

    def has(self, key: str) -> bool:
        """Tell whether a recording is here."""
        return self._place(key).is_file()

    def path(self, key: str) -> Path:
        """Say where a recording is."""
        place = self._place(key)
        if not place.is_file():
            raise NotFound(what="this recording")
        return place

    def sound_path(self, key: str) -> Path:
        """Say where a recording is whose bytes are still those that came, or refuse it."""
        if not self.has(key):
            raise DamagedRecording(got="is missing on the disk")
        if not self.is_sound(key):
            raise DamagedRecording(got="is damaged on the disk: its bytes are not those that came in")
        return self._place(key)

    def size_of(self, key: str) -> int:
        """Tell how many bytes a recording has; one that is gone has none."""
        size = self._sizes.get(key)
        if size is None:
            try:
                size = self._sizes[key] = self._place(key).stat().st_size
            except OSError:
                return 0
        return size

    def remove(self, key: str) -> None:
        """Remove a recording for good, set aside or not; one that is gone already is fine."""
        self._place(key).unlink(missing_ok=True)
        self.aside.remove(key)
        self._sizes.pop(key, None)

    def take_over(self, place: Path, key: str) -> None:
        """Move a whole recording here from elsewhere on the disk, unless it is here and whole."""
        if not self.is_sound(key):
            self._settle(place, key)

    def set_aside(self, key: str, on: date) -> None:
        """Set a recording aside, by its file's own day where the clock has lost it and is behind."""
        with disk_errors(str(self.folder)), suppress(FileNotFoundError):  # its own deletion came first
            written = datetime.fromtimestamp(self._place(key).stat().st_mtime, UTC).date()
            self.aside.put(self._place(key), key, max(on, written))

    def bring_back(self, key: str) -> bool:
        """Take back a recording that was set aside, whole; tell whether there was one."""
        place = self.aside.find(key)
        if place is None or not is_sound(place, key):
            return False
        with disk_errors(str(self.folder)):
            self._settle(place, key)
        return True

    def kept_keys(self) -> Iterator[str]:
        """Walk the keys of all that is here."""
        for place in sorted(self.folder.glob("??/*")):  # not in a backup that is being made here
            key = f"{place.parent.name}/{place.name}"
            if KEY.fullmatch(key):
                yield key

    def all_keys(self) -> set[str]:
        """List the keys of all that is here or was set aside."""
        return {*self.kept_keys(), *self.aside.keys()}

    def is_sound(self, key: str) -> bool:
        """Tell whether a recording is here, and its bytes are those that came in."""
        return is_sound(self._place(key), key)

    @contextmanager
    def unfinished(self) -> Iterator[Path]:
        """Lend a name for a file that is being written; what is left of it at the end is removed."""
        place = self.folder / _UNFINISHED / secrets.token_hex(16)
        with disk_errors(str(self.folder)):
            try:
                yield place
            finally:
                place.unlink(missing_ok=True)

    def sweep_unfinished(self, older_than_s: float = OLD_S) -> int:
        """Remove files whose writer died, and tell how many."""
        before = time.time() - older_than_s
        old = [place for place in (self.folder / _UNFINISHED).glob("*") if _changed(place) <= before]
        for place in old:
            if place.is_dir():
                shutil.rmtree(place, ignore_errors=True)
            else:
                place.unlink(missing_ok=True)
        return len(old)

    def _place(self, key: str) -> Path:
        """Turn a key to a path; what is no key leads nowhere."""
        if not KEY.fullmatch(key):
            raise NotFound(what="this recording")
        return self.folder / key

    def _settle(self, place: Path, key: str) -> None:
        """Move a synced file to where its content belongs."""
        folder = self._place(key).parent
        if not folder.is_dir():
            folder.mkdir(mode=0o700, exist_ok=True)
            _sync_folder(self.folder)
        place.replace(folder / Path(key).name)
        _sync_folder(folder)


def is_sound(place: Path, key: str) -> bool:
    """Tell whether a file's bytes are those of its key."""
    try:
        with place.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == Path(key).stem
    except OSError:
        return False


def _written(content: bytes | Path, place: Path) -> tuple[str, bytes]:
    """Write bytes to a place and sync them; give their SHA-256 and the first of them."""
    with place.open("xb") as file:
        place.chmod(0o600)
        if isinstance(content, Path):
            with content.open("rb") as source:
                shutil.copyfileobj(source, file, _AT_ONCE)
        else:
            file.write(content)
        file.flush()
        os.fsync(file.fileno())
    with place.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        file.seek(0)
        return digest, file.read(64)


def _suffix(head: bytes) -> str:
    """Name the kind of a file by its first bytes."""
    for offset, magic, suffix in _MAGIC:
        if head[offset : offset + len(magic)] == magic:
            return suffix
    return ".bin"


def _sync_folder(folder: Path) -> None:
    """Make a folder's new names survive a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _changed(place: Path) -> float:
    """Tell when a file was last written, seconds; a file that is gone was written in the future."""
    try:
        return place.stat().st_mtime
    except FileNotFoundError:
        return float("inf")
