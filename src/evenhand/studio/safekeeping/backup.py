"""A backup: the database and the recordings of one instant as one file, made while the studio runs.

    manifest.json        schema, version, moment; SHA-256 and length of every other member
    README.txt           what this is, for who opens it
    studio.sqlite        all rows, of a Postgres too
    recordings/ab/<key>  the recordings that the rows name

At that instant nobody adds or removes a recording: it lasts as long as the database is copied and each
recording gets a second name (a hard link). What is packed afterwards cannot change or go.

Put a backup back: it is unpacked beside, tried out, and only then takes the studio's place.

Conventions: the database that was there before is set aside, for a month; its recordings stay, beside
those of the backup. Sessions stay behind: everybody comes in anew. A take that was in a worker's hands
waits.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, delete, func, select, update
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotKeep, StudioOpen, StudioThere
from evenhand.studio.safekeeping.form import (
    README,
    ArchiveForm,
    ArchiveWriter,
    ExportFile,
    Progress,
    opened,
    quiet,
    written_whole,
)
from evenhand.studio.store.data import Clock, StudioData, named_keys_in, utc_now
from evenhand.studio.store.database import Database, copy_rows, upgrade
from evenhand.studio.store.layout import (
    DATABASE,
    DATABASE_FILES,
    FIRST,
    FOLDER_ALONE,
    RECORDINGS,
    Backing,
    disk_errors,
    make_own,
    part_folder,
)
from evenhand.studio.store.recordings import Recordings
from evenhand.studio.store.studio import Studio, holds_a_studio, recordings_in
from evenhand.studio.store.tables import known_devices, sessions, studio, takes

SCHEMA_ID = "urn:evenhand:backup-1"
_MEMBERS = re.compile(r"README\.txt|studio\.sqlite|recordings/([0-9a-f]{2})/\1[0-9a-f]{62}\.[a-z0-9]{1,5}")
FORM = ArchiveForm(
    SCHEMA_ID, "evenhand backup", lambda name: _MEMBERS.fullmatch(name) is not None, (README, DATABASE)
)
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


def back_up(studio: Studio, path: Path, *, progress: Progress = quiet) -> BackedUp:
    """Write a backup to a file: whole, or not at all."""
    with (
        written_whole(path) as file,
        _instant(studio.data) as (place, keys, find),
        zipfile.ZipFile(file, "w") as archive,
    ):
        backup = ArchiveWriter(archive)
        backup.add_text(README, _README)
        with (place / DATABASE).open("rb") as copy:
            sha256 = hashlib.file_digest(copy, "sha256").hexdigest()
        backup.add_file(DATABASE, place / DATABASE, sha256)
        backup.add_recordings(find, keys, progress)
        backup.finish(SCHEMA_ID, studio.data.now())
        return BackedUp(len(keys) - len(backup.missing), tuple(backup.missing))


@contextmanager
def _instant(data: StudioData) -> Iterator[tuple[Path, list[str], Callable[[str], Path | None]]]:
    """Hold one instant of the studio in a folder that goes again: its rows, its recordings by key.

    A store of objects gives no second names: what is deleted while it is packed is missing then.
    """
    with part_folder(data.recordings.folder, "backup") as place:
        with data.database.alone():
            _copy_rows(data.database, place / DATABASE)
            keys = _named_in(place / DATABASE)
            if not data.recordings.is_here:
                find = data.recordings.find
            else:
                find = Recordings(place / RECORDINGS).find
                for key in keys:
                    _second_name(data.recordings, key, place / RECORDINGS / key)
        yield place, keys, find


def _copy_rows(database: Database, place: Path) -> None:
    if database.is_sqlite:
        database.copy_to(place)
        return
    with closing(_at(place)) as copy:
        copy_rows(database, copy)


def _second_name(recordings: Recordings, key: str, to: Path) -> None:
    """Give a recording a second name, so that it stays; or point to it, where the disk has no such."""
    if not recordings.has(key):
        return
    to.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    source = recordings.path(key)
    try:
        os.link(source, to)
    except OSError:
        to.symlink_to(source.resolve())


def _at(place: Path) -> Database:
    return Database(URL.create("sqlite", database=str(place)))


def _named_in(place: Path) -> list[str]:
    """List the recordings that a copied database names."""
    with closing(_at(place)) as copy, copy.reading() as connection:
        return sorted(named_keys_in(connection))


_WAITS_S = 0.5


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put back: of which moment, and where what was there before lies now."""

    moment: str
    before: Path | None


def restore(path: Path, data: Path, *, now: Clock = utc_now, backing: Backing = FOLDER_ALONE) -> Restored:
    """Put a backup in the place of whatever studio is in a folder (and in an empty Postgres, if given).

    Raises
    ------
    BadExport
        The file is no whole backup; nothing was changed.
    StudioOpen
        Somebody works with the studio that is there; nothing was changed.
    """
    with (
        opened(path, FORM) as backup,
        _own(data),
        disk_errors(str(data)),
        part_folder(data, "restore") as place,
    ):
        backup.check_room(place)
        backup.unpack(DATABASE, place / DATABASE)
        backup.unpack_recordings(place / RECORDINGS)
        _try_out(backup, place / DATABASE)
        if backing.url is not None:
            _into(place / DATABASE, backing, data)
        before = _exchange(place, data, now, backing)
        return Restored(backup.moment, before)


@contextmanager
def _own(data: Path) -> Iterator[None]:
    """Have a folder for the studio; one that was made for it goes if nothing comes of it."""
    there = data.exists()
    make_own(data)
    try:
        yield
    except BaseException:
        if not there:
            shutil.rmtree(data, ignore_errors=True)
        raise


def _try_out(backup: ExportFile, place: Path) -> None:
    """Open the database that came, look through all of it, and bring it to the newest form."""
    _check_plain(backup, place)
    database = _at(place)
    try:
        wrong = database.faults()
        if wrong:
            raise backup.bad(f"its database is damaged ({wrong})")
        with database.changing(copies_tables=True) as connection:
            upgrade(connection)
        with database.alone() as connection:
            if connection.scalar(select(func.count()).select_from(studio)) != 1:
                raise backup.bad("its database holds no studio")
            backup.check_named(named_keys_in(connection))
            connection.execute(delete(sessions))
            connection.execute(delete(known_devices))
            connection.execute(
                update(takes).where(takes.c.status == "hearing").values(status="waiting", progress=0.0)
            )
    except (SQLAlchemyError, CannotKeep) as error:
        raise backup.bad(f"its database cannot be read ({str(error).splitlines()[0][:200]})") from error
    finally:
        database.close()


def _check_plain(backup: ExportFile, place: Path) -> None:
    """Refuse a database that does something by itself."""
    try:
        with closing(sqlite3.connect(place)) as raw:
            query = "SELECT name FROM sqlite_master WHERE type IN ('trigger', 'view')"
            acts = raw.execute(query).fetchone()
    except sqlite3.Error as error:
        raise backup.bad(f"its database cannot be read ({error})") from error
    if acts is not None:
        raise backup.bad(f"its database has a trigger or a view, {str(acts[0])[:40]!r}")


def _into(place: Path, backing: Backing, data: Path) -> None:
    """Copy the rows to a Postgres that does not hold this studio."""
    with closing(_at(place)) as source, closing(Database(backing.url or "", backing.studio_id)) as target:
        with target.reading() as connection:
            if holds_a_studio(connection, backing.studio_id):
                raise StudioThere(where=str(data))
        copy_rows(source, target)


def _exchange(place: Path, data: Path, now: Clock, backing: Backing) -> Path | None:
    """Add the backup's recordings to those that are there, set the old database aside, and put the new one.

    What is newer than the backup stays as a file with its label, so that a repair makes takes of it again.
    """
    _check_closed(data)
    old = [name for name in DATABASE_FILES if (data / name).exists()]
    recordings = recordings_in(data, backing, backing.studio_id or FIRST)
    came = Recordings(place / RECORDINGS)
    recordings.make()
    with disk_errors(str(data)):
        for key in came.kept_keys():
            recordings.take_over(came.path(key), key)
        before = recordings.aside.room(now().date(), "before-restore") if old else None
        for name in old:
            if before is not None:
                (data / name).replace(before / name)
        if backing.url is None:
            (place / DATABASE).replace(data / DATABASE)
    return before


def _check_closed(data: Path) -> None:
    """Refuse to replace a studio that is open in any process; one whose database is damaged is not."""
    if not (data / DATABASE).is_file():
        return
    try:
        with closing(sqlite3.connect(data / DATABASE, timeout=_WAITS_S, isolation_level=None)) as raw:
            raw.execute("PRAGMA locking_mode = EXCLUSIVE")
            raw.execute("BEGIN EXCLUSIVE")
            raw.execute("COMMIT")
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
            raise StudioOpen(where=str(data)) from error
