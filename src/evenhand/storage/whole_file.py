"""A file or a folder that has its name only when it is whole, and leaves nothing where its writer is killed.

Where the system can (Linux, most of its file systems), the file has no name at all while it is written,
so that a kill leaves nothing. Elsewhere, and for a folder, it is called ``.<name>.<8 letters>.part`` and
locked by its writer; the next who writes in that place removes those that nobody locks.
"""

from __future__ import annotations

import fcntl
import os
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

_PART = re.compile(r"\..+\.[0-9a-f]{8}\.part")


@contextmanager
def whole_file(path: Path) -> Iterator[IO[bytes]]:
    """Lend a file to be written; at the end of the block it stands at its path, whatever was there."""
    sweep_parts(path.parent)
    beside = _beside(path)
    nameless = _nameless(path.parent)
    try:
        with nameless or _locked(beside) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
            if nameless is not None:
                os.link(f"/proc/self/fd/{file.fileno()}", beside, src_dir_fd=0)  # a number makes it follow
            beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


@contextmanager
def part_folder(above: Path, name: str) -> Iterator[Path]:
    """Lend a folder to be filled; it is gone afterwards unless it was moved to its place."""
    sweep_parts(above)
    place = _beside(above / name)
    place.mkdir(mode=0o700)
    handle = os.open(place, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield place
    finally:
        os.close(handle)
        shutil.rmtree(place, ignore_errors=True)


def sweep_parts(folder: Path) -> int:
    """Remove parts whose writer was killed; tell how many."""
    parts = [place for place in folder.glob(".*.part") if _PART.fullmatch(place.name)]
    return sum(_swept(place) for place in parts)


def _swept(place: Path) -> bool:
    """Remove a part that nobody writes."""
    with suppress(OSError):
        handle = os.open(place, os.O_RDONLY | os.O_NOFOLLOW)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if place.is_dir():
                shutil.rmtree(place)
            else:
                place.unlink()
            return True
        finally:
            os.close(handle)
    return False


def _beside(path: Path) -> Path:
    return path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")


def _nameless(folder: Path) -> IO[bytes] | None:
    """Open a file without a name; None where the system has none such."""
    flag = getattr(os, "O_TMPFILE", None)
    if flag is None:
        return None
    try:
        return os.fdopen(os.open(folder, flag | os.O_RDWR | os.O_CLOEXEC, 0o600), "w+b")
    except OSError:
        return None


def _locked(place: Path) -> IO[bytes]:
    """Make a file that says by its lock that somebody writes it."""
    file = os.fdopen(os.open(place, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_CLOEXEC, 0o600), "w+b")
    fcntl.flock(file, fcntl.LOCK_EX)
    return file
