"""What lies where in a studio's folder, and whose it is.

studio.sqlite    the database, where it is not a Postgres
recordings/      recordings by their content
labels/          beside each recording: whose it is and what of
set-aside/       what no take names, by day
filling.json     how far a demonstration is filled, while it is
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from evenhand.errors import WrongOptions
from evenhand.storage.trouble import told

DATABASE, RECORDINGS, LABELS, SET_ASIDE, CERTIFICATE, FILLING = (
    "studio.sqlite",
    "recordings",
    "labels",
    "set-aside",
    "certificate",
    "filling.json",
)
DATABASE_FILES = (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", f"{DATABASE}-journal")
OURS = frozenset({*DATABASE_FILES, RECORDINGS, LABELS, SET_ASIDE, CERTIFICATE, FILLING})
_OTHERS = 0o077


def make_own(data: Path) -> None:
    """Make a studio's folder, for its owner's eyes only; one that others can read becomes so.

    A folder with other things in it is left as it is and refused, for others may need those.
    """
    with told(str(data)):
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
