"""A backup: the database and the recordings of one instant as one file, made while the studio runs.

    manifest.json        schema, version, moment; SHA-256 and length of every other member
    README.txt           what this is, for who opens it
    studio.sqlite        all rows, of a Postgres too
    recordings/ab/<key>  the recordings that the rows name

At that instant nobody adds or removes a recording: it lasts as long as the database is copied and each
recording gets a second name (a hard link). What is packed afterwards cannot change or go.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, select

import evenhand
from evenhand.errors import CannotWrite, DiskFull
from evenhand.storage.copying import copy_rows
from evenhand.storage.database import Database
from evenhand.storage.export_file import Form
from evenhand.storage.export_form import MANIFEST, README
from evenhand.storage.kept import Kept
from evenhand.storage.layout import DATABASE, RECORDINGS
from evenhand.storage.tables import takes
from evenhand.storage.trouble import trouble_of
from evenhand.storage.whole_file import part_folder, whole_file

SCHEMA_ID = "urn:evenhand:backup-1"
_MEMBERS = re.compile(r"README\.txt|studio\.sqlite|recordings/([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z0-9]{1,5}")
FORM = Form(
    SCHEMA_ID, "evenhand backup", lambda name: _MEMBERS.fullmatch(name) is not None, (README, DATABASE)
)
_AT_ONCE = 1 << 20
_README = """This is a backup of a whole studio of Evenhand: the database and the recordings of one instant.

evenhand restore FILE --data DIR puts it back, and sets aside what is in DIR.

It holds what your students trusted you with, those too whom you erase later: erasing does not reach it.
Keep it as you keep the studio, and delete it when you have a newer one.
"""


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What went into a backup: recordings, and those that were missing or damaged on the disk."""

    recordings: int
    missing: tuple[str, ...]


class Backups(Kept):
    """How a studio is backed up."""

    def back_up(self, path: Path, *, progress: Callable[[float], None] = lambda _done: None) -> BackedUp:
        """Write a backup to a file: whole, or not at all."""
        try:
            with (
                self._instant() as (place, keys),
                whole_file(path) as file,
                zipfile.ZipFile(file, "w") as archive,
            ):
                return _write(archive, place, keys, self._now().isoformat(), progress)
        except OSError as error:
            trouble = trouble_of(error, str(path.parent))
            if isinstance(trouble, DiskFull):
                raise trouble from error
            raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error

    @contextmanager
    def _instant(self) -> Iterator[tuple[Path, list[str]]]:
        """Hold one instant of the studio in a folder that goes again: its rows, and its recordings by key."""
        with part_folder(self._recordings.folder, "backup") as place:
            with self._database.alone():
                self._copy_rows(place / DATABASE)
                keys = _named_in(place / DATABASE)
                for key in keys:
                    self._second_name(key, place / RECORDINGS / key)
            yield place, keys

    def _copy_rows(self, place: Path) -> None:
        if self._database.is_sqlite:
            self._database.copy_to(place)
            return
        copy = _at(place)
        try:
            copy_rows(self._database, copy)
        finally:
            copy.close()

    def _second_name(self, key: str, to: Path) -> None:
        """Give a recording a second name, so that it stays; or point to it, where the disk has no such."""
        if not self._recordings.has(key):
            return
        to.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        source = self._recordings.path(key)
        try:
            os.link(source, to)
        except OSError:
            to.symlink_to(source.resolve())


def _at(place: Path) -> Database:
    return Database(URL.create("sqlite", database=str(place)))


def _named_in(place: Path) -> list[str]:
    """List the recordings that a copied database names."""
    copy = _at(place)
    try:
        with copy.reading() as connection:
            found = connection.execute(select(takes.c.recording, takes.c.original)).all()
    finally:
        copy.close()
    return sorted({key for row in found for key in row if key})


def _write(
    archive: zipfile.ZipFile, place: Path, keys: list[str], moment: str, progress: Callable[[float], None]
) -> BackedUp:
    """Write all members, the manifest last."""
    archive.writestr(README, _README)
    members: dict[str, dict[str, str | int]] = {}
    members[README] = {"sha256": hashlib.sha256(_README.encode()).hexdigest(), "bytes": len(_README)}
    members[DATABASE] = _add(archive, DATABASE, place / DATABASE)
    missing = []
    for done, key in enumerate(keys, start=1):
        name, source = f"{RECORDINGS}/{key}", place / RECORDINGS / key
        if _digest(source) == Path(key).stem:
            members[name] = _add(archive, name, source)
        else:
            missing.append(key)
        progress(done / len(keys))
    manifest = {
        "schema": SCHEMA_ID,
        "version": evenhand.__version__,
        "exported_at": moment,
        "members": members,
        "missing": missing,
    }
    archive.writestr(MANIFEST, json.dumps(manifest, indent=1) + "\n")
    return BackedUp(len(keys) - len(missing), tuple(missing))


def _digest(source: Path) -> str:
    """Give a file's SHA-256; "" where it is missing."""
    try:
        with source.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def _add(archive: zipfile.ZipFile, name: str, source: Path) -> dict[str, str | int]:
    """Add a file as it is, and say what it was."""
    found, n = hashlib.sha256(), 0
    info = zipfile.ZipInfo(name)
    info.file_size = source.stat().st_size
    with source.open("rb") as file, archive.open(info, "w") as target:
        while block := file.read(_AT_ONCE):
            found.update(block)
            n += target.write(block)
    return {"sha256": found.hexdigest(), "bytes": n}
