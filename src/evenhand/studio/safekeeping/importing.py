"""Make a studio of an export: all of it, or nothing is left behind."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, insert, inspect, select
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotWrite, DiskFull, StudioThere
from evenhand.studio.safekeeping.form import HEARD, TABLES, BadValue, ExportFile, from_json, opened
from evenhand.studio.store.database import Database, upgrade
from evenhand.studio.store.layout import DATABASE, RECORDINGS, part_folder, told
from evenhand.studio.store.recordings import KEY, Recordings
from evenhand.studio.store.tables import studio, takes

_AT_ONCE = 200  # rows inserted together


def read_export(path: Path, data: Path, *, url: str | None = None) -> None:
    """Read an export to a new studio in a folder (and in a Postgres, if its address is given)."""
    _check_place(data)
    with opened(path) as export, _beside(data) as place, told(str(data)):
        check_room(export, place)
        unpack_recordings(export, place / RECORDINGS)
        database = Database(url or URL.create("sqlite", database=str(place / DATABASE)))
        try:
            with database.alone() as connection:
                _check_empty(connection, data)
                upgrade(connection)
                _fill(connection, export)
                if url is not None:
                    _move(place, data)  # the commit comes after, and is the smaller risk
        except (SQLAlchemyError, OverflowError) as error:
            raise export.bad(f"its rows do not go together ({_first_line(error)})") from error
        finally:
            database.close()
        if url is None:
            _move(place, data)


def _check_place(data: Path) -> None:
    """Refuse a folder where something is."""
    if (data / DATABASE).exists():
        raise StudioThere(where=str(data))
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise CannotWrite(name=str(data), got="it is not an empty folder")


def _check_empty(connection: Connection, data: Path) -> None:
    """Refuse a database that holds a studio."""
    if inspect(connection).has_table(studio.name) and connection.scalar(select(studio.c.id)) is not None:
        raise StudioThere(where=str(data))


def check_room(export: ExportFile, place: Path) -> None:
    """Refuse what the disk cannot hold."""
    if export.unpacked_bytes() > shutil.disk_usage(place).free:
        raise DiskFull(where=str(place.parent))


@contextmanager
def _beside(data: Path) -> Iterator[Path]:
    """Lend a folder near the one that is to be; it is gone afterwards unless it was moved there."""
    above = next(folder for folder in data.absolute().parents if folder.is_dir())
    with ExitStack() as lent:
        try:
            place = lent.enter_context(part_folder(above, data.name))
        except OSError as error:
            raise CannotWrite(name=str(data), got=error.strerror or str(error)) from error
        yield place


def _move(place: Path, data: Path) -> None:
    """Put the finished folder where it was asked for."""
    try:
        data.parent.mkdir(parents=True, exist_ok=True)
        place.replace(data)
    except OSError as error:
        raise CannotWrite(name=str(data), got=error.strerror or str(error)) from error


def unpack_recordings(export: ExportFile, folder: Path) -> None:
    """Unpack the recordings; each has its own hash in its name."""
    recordings = Recordings(folder)
    recordings.make()
    for name in export.members:
        if not name.startswith("recordings/"):
            continue
        with recordings.unfinished() as place:
            export.unpack(name, place)
            if f"recordings/{recordings.add(place)}" != name:
                raise export.bad(f"{name} is not what its name says")


def _fill(connection: Connection, export: ExportFile) -> None:
    """Write all rows."""
    for table in TABLES:
        try:
            rows = [from_json(row, table) for row in export.rows(table.name)]
        except BadValue as error:
            raise export.bad(str(error)) from error
        if table is studio and len(rows) != 1:
            raise export.bad(f"it holds {len(rows)} studios")
        if table is takes:
            _check_takes(export, rows)
        for start in range(0, len(rows), _AT_ONCE):
            some = rows[start : start + _AT_ONCE]
            connection.execute(insert(table), _with_heard(export, some) if table is takes else some)


def _check_takes(export: ExportFile, rows: list[dict[str, Any]]) -> None:
    """Let every recording that a take names be in the export, or be known to be missing."""
    for row in rows:
        for key in (row["recording"], row["original"]):
            if key is None or f"recordings/{key}" in export.members:
                continue
            if not KEY.fullmatch(key) or key not in export.missing:
                raise export.bad(f"a take's recording {key[:80]!r} is not in it")


def _with_heard(export: ExportFile, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put what was heard back to its take."""
    names = [f"{HEARD}/{row['id']}.json" for row in rows]
    return [
        {**row, HEARD: export.text(name) if name in export.members else None}
        for row, name in zip(rows, names, strict=True)
    ]


def _first_line(error: Exception) -> str:
    """Say an error in a line, without the row that it is about."""
    return str(getattr(error, "orig", None) or error).splitlines()[0][:200]
