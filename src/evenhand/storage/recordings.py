"""Recordings by their content: the same bytes are kept once, and a file is never changed.

Conventions: a key is ``ab/<sha256><suffix>``, a path below the folder whose first two letters are
the hash's. A file is whole or not there: it is written under ``unfinished/``, synced, moved, and
the folder is synced too, so that what was added survives a power cut. The suffix comes from the
bytes; the name that a file had elsewhere is never part of a path.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from evenhand.errors import NotFound

KEY = re.compile(r"([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z0-9]{1,5}")
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

    def make(self) -> None:
        """Make the folder, for its owner's eyes only."""
        (self.folder / _UNFINISHED).mkdir(mode=0o700, parents=True, exist_ok=True)
        self.folder.chmod(0o700)

    def add(self, content: bytes | Path) -> str:
        """Keep bytes, or a copy of a file's, and give their key; they are on the disk when it returns."""
        with self.unfinished() as place:
            digest, head = _written(content, place)
            key = f"{digest[:2]}/{digest}{_suffix(head)}"
            self._settle(place, key)
        return key

    def has(self, key: str) -> bool:
        """Tell whether a recording is here."""
        return self._place(key).is_file()

    def path(self, key: str) -> Path:
        """Say where a recording is."""
        place = self._place(key)
        if not place.is_file():
            raise NotFound(what="this recording")
        return place

    def remove(self, key: str) -> None:
        """Remove a recording; one that is gone already is fine."""
        self._place(key).unlink(missing_ok=True)

    def kept_keys(self) -> Iterator[str]:
        """Walk the keys of all that is here."""
        for place in sorted(self.folder.glob("??/*")):
            key = f"{place.parent.name}/{place.name}"
            if KEY.fullmatch(key):
                yield key

    @contextmanager
    def unfinished(self) -> Iterator[Path]:
        """Lend a name for a file that is being written; what is left of it at the end is removed."""
        place = self.folder / _UNFINISHED / secrets.token_hex(16)
        try:
            yield place
        finally:
            place.unlink(missing_ok=True)

    def sweep_unfinished(self, older_than_s: float = OLD_S) -> int:
        """Remove files whose writer died, and tell how many."""
        before = time.time() - older_than_s
        old = [place for place in (self.folder / _UNFINISHED).glob("*") if _changed(place) <= before]
        for place in old:
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
