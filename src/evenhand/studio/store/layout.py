"""What lies where in a studio's folder, and whose it is.

studio.sqlite    the database, where it is not a Postgres
recordings/      recordings by their content
labels/          beside each recording: whose it is and what of
set-aside/       what no take names, by day
filling.json     how far a demonstration is filled, while it is
studios/<id>/    recordings, labels and set-aside of each studio of a school, but for the first

What a disk or a database says when it cannot go on, as one of our own errors.

SQLite's codes are those of its documentation (result codes, the low byte); Postgres' are the SQLSTATE
of its manual's appendix; the system's are errno.

A file or a folder that has its name only when it is whole, and leaves nothing where its writer is killed.

Where the system can (Linux, most of its file systems), the file has no name at all while it is written,
so that a kill leaves nothing. Elsewhere, and for a folder, it is called ``.<name>.<8 letters>.part`` and
locked by its writer; the next who writes in that place removes those that nobody locks.
"""

from __future__ import annotations

import errno
import fcntl
import os
import re
import secrets
import shutil
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from evenhand.errors import CannotKeep, DiskFull, ReadOnly, StudioDamaged, WrongOptions


@dataclass(frozen=True, slots=True)
class Backing:
    """What a studio is kept in beside its folder; with none of it, the folder holds all.

    ``url`` is a Postgres, ``postgresql://...``; ``studio_id`` is which of its studios (None: the only one).
    ``objects`` is where recordings and labels lie, ``s3://...`` (``places/bucket.py``).
    """

    url: str | None = None
    studio_id: str | None = None
    objects: str | None = None


FOLDER_ALONE = Backing()
FIRST = "first"  # the studio in a SQLite file, and the one that a Postgres held before there were several

LEAST_ROOM = 1 << 20  # with less free than this, an error of reading or writing is for want of room

_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})
_NOT_OURS = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
_SQLITE_DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
_SQLITE_NOT_OURS = frozenset({sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM})
_POSTGRES_FULL, _POSTGRES_READ_ONLY, _POSTGRES_DAMAGED = "53100", "25006", ("XX001", "XX002")


def trouble_of(error: BaseException | None, where: str) -> CannotKeep | None:
    """Say which trouble of the disk an error is; None where it is none."""
    if isinstance(error, sqlite3.Error):
        return _of_sqlite(error, where)
    if isinstance(error, OSError):
        return _of_system(error, where)
    return _of_postgres(str(getattr(error, "sqlstate", "")), where)


@contextmanager
def disk_errors(where: str) -> Iterator[None]:
    """Let what the system says of the disk leave as our own error."""
    try:
        yield
    except OSError as error:
        trouble = _of_system(error, where)
        if trouble is None:
            raise
        raise trouble from error


def _of_sqlite(error: sqlite3.Error, where: str) -> CannotKeep | None:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_FULL or (code == sqlite3.SQLITE_IOERR and not _has_room(where)):
        return DiskFull(where=where)
    if code in _SQLITE_NOT_OURS:
        return ReadOnly(where=where, got=str(error))
    if code in _SQLITE_DAMAGED or code == sqlite3.SQLITE_IOERR:
        return StudioDamaged(where=where, got=str(error))
    return None


def _of_system(error: OSError, where: str) -> CannotKeep | None:
    if error.errno in _FULL:
        return DiskFull(where=where)
    if error.errno in _NOT_OURS:
        return ReadOnly(where=where, got=error.strerror or str(error))
    return None


def _of_postgres(state: str, where: str) -> CannotKeep | None:
    if state == _POSTGRES_FULL:
        return DiskFull(where=where)
    if state == _POSTGRES_READ_ONLY:
        return ReadOnly(where=where, got="it takes no writing")
    return StudioDamaged(where=where, got=f"SQLSTATE {state}") if state in _POSTGRES_DAMAGED else None


def _has_room(where: str) -> bool:
    try:
        return shutil.disk_usage(where).free >= LEAST_ROOM
    except OSError:
        return True


DATABASE, RECORDINGS, LABELS, SET_ASIDE, CERTIFICATE, FILLING, STUDIOS = (
    "studio.sqlite",
    "recordings",
    "labels",
    "set-aside",
    "certificate",
    "filling.json",
    "studios",
)
DATABASE_FILES = (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", f"{DATABASE}-journal")
OURS = frozenset({*DATABASE_FILES, RECORDINGS, LABELS, SET_ASIDE, CERTIFICATE, FILLING, STUDIOS})
_OTHERS = 0o077


def folder_of(data: Path, studio_id: str | None) -> Path:
    """Return where a studio's recordings and labels lie: the first one's in the folder itself."""
    return data if studio_id in {None, FIRST} else data / STUDIOS / str(studio_id)


def make_own(data: Path) -> None:
    """Make a studio's folder, for its owner's eyes only; one that others can read becomes so.

    A folder with other things in it is left as it is and refused, for others may need those.
    """
    with disk_errors(str(data)):
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _is_open(data):
            return
        others = sorted({each.name for each in data.iterdir()} - OURS)
        if others:
            got = f"the folder {data}, which others can read, with {others[0]!r} in it"
            raise WrongOptions(got=got, must_be="an empty folder, or one that only you can read (chmod 700)")
        data.chmod(0o700)


def close_to_others(data: Path) -> None:
    """Close the folder of a studio that is there, as far as it may be closed."""
    with suppress(OSError):
        if _is_open(data):
            data.chmod(0o700)


def _is_open(data: Path) -> bool:
    """Tell whether others can read a folder of ours; one that all write to (sticky) is nobody's own."""
    found = data.stat()
    return bool(found.st_mode & _OTHERS) and not found.st_mode & stat.S_ISVTX and found.st_uid == os.geteuid()


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
