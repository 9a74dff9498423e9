"""Make a studio of an export: all of it, or nothing is left behind."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from argon2 import PasswordHasher
from sqlalchemy import URL, Connection, insert
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotWrite, StudioThere
from evenhand.studio.safekeeping.form import TABLES, ExportFile, opened
from evenhand.studio.store.data import Clock, utc_now
from evenhand.studio.store.database import Database, upgrade
from evenhand.studio.store.json_rows import HEARD, BadValue, from_json
from evenhand.studio.store.layout import DATABASE, RECORDINGS, disk_errors, part_folder
from evenhand.studio.store.studio import Studio, holds_a_studio
from evenhand.studio.store.tables import studio, takes

_AT_ONCE = 200  # rows inserted together


def import_studio(
    path: Path,
    data: Path,
    *,
    url: str | None = None,
    now: Clock = utc_now,
    hasher: PasswordHasher | None = None,
) -> Studio:
    """Make a studio of an export, equal to the one that was exported; all of it, or nothing.

    It is in a folder, or, if its address is given, in a Postgres.

    Raises
    ------
    BadExport
        The file is no whole export.
    StudioThere
        There is a studio already.
    """
    _read(path, data, url)
    return Studio.open(data, url=url, now=now, hasher=hasher)


def _read(path: Path, data: Path, url: str | None) -> None:
    """Read an export to a new folder (and to a Postgres)."""
    _check_place(data)
    with opened(path) as export, _beside(data) as place, disk_errors(str(data)):
        export.check_room(place)
        export.unpack_recordings(place / RECORDINGS)
        database = Database(url or URL.create("sqlite", database=str(place / DATABASE)))
        try:
            with database.alone() as connection:
                if holds_a_studio(connection):
                    raise StudioThere(where=str(data))
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
            export.check_named(key for row in rows for key in (row["recording"], row["original"]))
        for start in range(0, len(rows), _AT_ONCE):
            some = rows[start : start + _AT_ONCE]
            connection.execute(insert(table), _with_heard(export, some) if table is takes else some)


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
