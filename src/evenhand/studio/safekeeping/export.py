"""Write a whole studio to one file, and make a studio of one: whole, or not at all."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

from argon2 import PasswordHasher
from sqlalchemy import URL, Connection, Table, insert, select
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotWrite, StudioThere
from evenhand.studio.safekeeping.form import (
    README,
    SCHEMA_ID,
    TABLES,
    ArchiveWriter,
    ExportFile,
    Progress,
    json_of,
    opened,
    quiet,
    written_whole,
)
from evenhand.studio.store.data import NAMES, Clock, utc_now
from evenhand.studio.store.database import Database, begin_studio
from evenhand.studio.store.labels import (
    HEARD,
    BadValue,
    exported_columns,
    from_json,
    said_of_words,
    to_json,
)
from evenhand.studio.store.layout import DATABASE, FOLDER_ALONE, RECORDINGS, Backing, disk_errors, part_folder
from evenhand.studio.store.studio import Studio, holds_a_studio
from evenhand.studio.store.tables import hearings, said, studio, takes

Rows = dict[str, list[dict[str, Any]]]

_README = """This is a whole studio of Evenhand: students, weeks, takes, recordings, the book.

tables/      for a spreadsheet
recordings/  the takes as sound; tables/takes.csv says which is which
heard/       what was heard of each take, one JSON file a take; other versions of it are named in
             data/hearings.json
data/        all rows, for evenhand import-studio, which makes an equal studio of this file

It holds what your students trusted you with. Keep it as you keep the studio.
"""
_SPREADSHEETS: Mapping[str, str] = {
    "students": (
        "name stage minor consent_by consent_on lesson_day lesson_time minutes_a_day days_a_week notes "
        "archived id"
    ),
    "weeks": "student starts stage words sent_at id",
    "takes": "student recorded_at exercise tempo stroke source status seconds reason recording id",
    "said": "student who said_at text unclear recording seconds take_id week_id read_at id",
    "book": "position section title text id",
    "acts": "at who what about thing address",
}


def export_studio(studio: Studio, path: Path, *, progress: Progress = quiet) -> None:
    """Write a whole studio to one zip file; ``progress`` is told the share of the recordings done."""
    with written_whole(path) as file:
        _write(file, studio, progress)


@contextmanager
def exported(studio: Studio) -> Iterator[IO[bytes]]:
    """Lend a whole studio as an open export without a name: it goes with the block, or the process."""
    with TemporaryFile(dir=studio.data.recordings.folder) as file, disk_errors(studio.data.database.where):
        _write(file, studio, quiet)
        file.seek(0)
        yield file


def _write(file: IO[bytes], studio: Studio, progress: Progress) -> None:
    """Write all members, the manifest last. The rows are of one moment; recordings never change."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        export = ArchiveWriter(archive)
        export.add_text(README, _README)
        with studio.data.database.of_one_moment() as connection:
            rows = {table.name: _rows(connection, table) for table in TABLES}
            _add_heard(export, connection)
        for name, those in rows.items():
            export.add_text(f"data/{name}.json", json_of(those))
        for name, columns in _SPREADSHEETS.items():
            export.add_text(f"tables/{name}.csv", table_text(_with_names(rows, name), columns.split()))
        export.add_recordings(studio.data.recordings.find, sorted(_keys(rows)), progress)
        export.finish(SCHEMA_ID, studio.data.now())


def _keys(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> set[str]:
    """List the recordings that rows name."""
    named = {row[column.name] for column in NAMES for row in rows.get(column.table.name, ())}
    return named - {None}


def _rows(connection: Connection, table: Table) -> list[dict[str, Any]]:
    query = select(*exported_columns(table)).order_by(table.c.id)
    return [to_json(dict(row), table) for row in connection.execute(query).mappings()]


def _add_heard(export: ArchiveWriter, connection: Connection) -> None:
    """Add what was heard, take by take and version by version, without holding it all."""
    for table in _HEARD_OF:
        query = select(table.c.id, table.c.heard).where(table.c.heard.is_not(None)).order_by(table.c.id)
        for own_id, heard in connection.execution_options(yield_per=50).execute(query):
            export.add_text(f"{HEARD}/{own_id}.json", heard)


def _with_names(rows: Rows, table: str) -> Iterable[dict[str, Any]]:
    """Say a student's name beside each row that is of one."""
    names = {student["id"]: student["name"] for student in rows["students"]}
    return [{**row, "student": names.get(row.get("student_id"))} for row in rows[table]]


def table_text(rows: Iterable[dict[str, Any]], columns: Sequence[str]) -> str:
    """Write rows for a spreadsheet, which must not take a cell for a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([safe_cell(row[column]) for column in columns] for row in rows)
    return out.getvalue()


def safe_cell(value: object) -> object:
    """Put an apostrophe before a text that a spreadsheet would take for a formula."""
    return (
        f"'{value}"
        if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r"))
        else value
    )


_AT_ONCE = 200  # rows inserted together
_HEARD_OF = (takes, hearings)  # what was heard stands in a file of its own


def import_studio(
    path: Path,
    data: Path,
    *,
    backing: Backing = FOLDER_ALONE,
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
    _read(path, data, backing)
    return Studio.open(data, backing=backing, now=now, hasher=hasher)


def _read(path: Path, data: Path, backing: Backing) -> None:
    """Read an export to a new folder (and to a Postgres)."""
    _check_place(data)
    with opened(path) as export, _beside(data) as place, disk_errors(str(data)):
        export.check_room(place)
        export.unpack_recordings(place / RECORDINGS)
        address = URL.create("sqlite", database=str(place / DATABASE))
        database = Database(backing.url or address, backing.studio_id)
        try:
            with database.changing() as connection:
                if holds_a_studio(connection, backing.studio_id):
                    raise StudioThere(where=str(data))
                begin_studio(database, connection)
                _fill(connection, export)
                if backing.url is not None:
                    _move(place, data)  # the commit comes after, and is the smaller risk
        except (SQLAlchemyError, OverflowError) as error:
            raise export.bad(f"its rows do not go together ({_first_line(error)})") from error
        finally:
            database.close()
        if backing.url is None:
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
    words = list[object]()
    for table in TABLES:
        written = list(export.rows(table.name))
        if table is takes:
            words = [said_of_words(row) for row in written if isinstance(row, dict) and row.get("words")]
            written = [_without_words(row) for row in written]
        try:
            rows = [from_json(row, table) for row in [*written, *(words if table is said else ())]]
        except BadValue as error:
            raise export.bad(str(error)) from error
        if table is studio and len(rows) != 1:
            raise export.bad(f"it holds {len(rows)} studios")
        export.check_named(_keys({table.name: rows}))
        for start in range(0, len(rows), _AT_ONCE):
            some = rows[start : start + _AT_ONCE]
            connection.execute(insert(table), _with_heard(export, some) if table in _HEARD_OF else some)


def _without_words(row: object) -> object:
    """Leave out what an export of an earlier form has with a take."""
    return {k: v for k, v in row.items() if k != "words"} if isinstance(row, dict) else row


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
