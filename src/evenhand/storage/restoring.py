"""Put a backup back: it is unpacked beside, tried out, and only then takes the studio's place.

Conventions: the database that was there before is set aside, for a month; its recordings stay, beside
those of the backup. Sessions stay behind: everybody comes in anew. A take that was in a worker's hands
waits.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, Connection, delete, func, inspect, select, update
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotKeep, StudioOpen, StudioThere
from evenhand.storage.backing_up import FORM
from evenhand.storage.copying import copy_rows
from evenhand.storage.database import Database
from evenhand.storage.export_file import ExportFile, opened
from evenhand.storage.importing import check_room, unpack_recordings
from evenhand.storage.kept import Clock
from evenhand.storage.layout import DATABASE, DATABASE_FILES, RECORDINGS, make_own
from evenhand.storage.migrating import upgrade
from evenhand.storage.recordings import Recordings
from evenhand.storage.set_aside import KEY
from evenhand.storage.tables import known_devices, sessions, studio, takes
from evenhand.storage.trouble import told
from evenhand.storage.whole_file import part_folder

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
