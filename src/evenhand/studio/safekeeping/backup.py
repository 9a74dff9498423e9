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
import json
import os
import re
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, Connection, delete, func, inspect, select, update
from sqlalchemy.exc import SQLAlchemyError

import evenhand
from evenhand.errors import CannotKeep, CannotWrite, DiskFull, StudioOpen, StudioThere
from evenhand.studio.safekeeping.form import MANIFEST, README, ExportFile, Form, opened
from evenhand.studio.safekeeping.importing import check_room, unpack_recordings
from evenhand.studio.store.database import Database, copy_rows, upgrade
from evenhand.studio.store.kept import Clock, Kept
from evenhand.studio.store.layout import (
    DATABASE,
    DATABASE_FILES,
    RECORDINGS,
    make_own,
    part_folder,
    told,
    trouble_of,
    whole_file,
)
from evenhand.studio.store.recordings import KEY, Recordings
from evenhand.studio.store.tables import known_devices, sessions, studio, takes

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


_WAITS_S = 0.5


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put back: of which moment, and where what was there before lies now."""

    moment: str
    before: Path | None


def restore(path: Path, data: Path, *, now: Clock, url: str | None = None) -> Restored:
    """Put a backup in the place of whatever studio is in a folder (and in an empty Postgres, if given).

    Raises
    ------
    BadExport
        The file is no whole backup; nothing was changed.
    StudioOpen
        Somebody works with the studio that is there; nothing was changed.
    """
    with opened(path, FORM) as backup, _own(data), told(str(data)), part_folder(data, "restore") as place:
        check_room(backup, place)
        backup.unpack(DATABASE, place / DATABASE)
        unpack_recordings(backup, place / RECORDINGS)
        _try_out(backup, place / DATABASE)
        if url is not None:
            _into(place / DATABASE, url, data)
        before = _exchange(place, data, now, with_database=url is None)
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
    database = Database(URL.create("sqlite", database=str(place)))
    try:
        wrong = database.faults()
        if wrong:
            raise backup.bad(f"its database is damaged ({wrong})")
        with database.alone() as connection:
            upgrade(connection)
            if connection.scalar(select(func.count()).select_from(studio)) != 1:
                raise backup.bad("its database holds no studio")
            _check_takes(backup, connection)
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


def _check_takes(backup: ExportFile, connection: Connection) -> None:
    """Let every recording that a take names be in the backup, or be known to be missing."""
    for row in connection.execute(select(takes.c.recording, takes.c.original)):
        for key in row:
            if key is None or f"{RECORDINGS}/{key}" in backup.members:
                continue
            if not KEY.fullmatch(key) or key not in backup.missing:
                raise backup.bad(f"a take's recording {key[:80]!r} is not in it")


def _into(place: Path, url: str, data: Path) -> None:
    """Copy the rows to a Postgres that holds no studio."""
    source, target = Database(URL.create("sqlite", database=str(place))), Database(url)
    try:
        with target.reading() as connection:
            there = inspect(connection).has_table(studio.name)
            if there and connection.scalar(select(studio.c.id)) is not None:
                raise StudioThere(where=str(data))
        copy_rows(source, target)
    finally:
        source.close()
        target.close()


def _exchange(place: Path, data: Path, now: Clock, *, with_database: bool) -> Path | None:
    """Add the backup's recordings to those that are there, set the old database aside, and put the new one.

    What is newer than the backup stays as a file with its label, so that a repair makes takes of it again.
    """
    _check_closed(data)
    old = [name for name in DATABASE_FILES if (data / name).exists()]
    recordings, came = Recordings(data / RECORDINGS), Recordings(place / RECORDINGS)
    recordings.make()
    with told(str(data)):
        for key in came.kept_keys():
            recordings.take_over(came.path(key), key)
        before = recordings.aside.room(now().date(), "before-restore") if old else None
        for name in old:
            if before is not None:
                (data / name).replace(before / name)
        if with_database:
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
