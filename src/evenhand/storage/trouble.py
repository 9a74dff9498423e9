"""What a disk or a database says when it cannot go on, as one of our own errors.

SQLite's codes are those of its documentation (result codes, the low byte); Postgres' are the SQLSTATE
of its manual's appendix; the system's are errno.
"""

from __future__ import annotations

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from evenhand.errors import CannotKeep, DiskFull, ReadOnly, StudioDamaged

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
def told(where: str) -> Iterator[None]:
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
