"""Write a whole studio to one file: whole or not at all."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

from sqlalchemy import Connection, Table, select

from evenhand.studio.safekeeping.form import (
    README,
    SCHEMA_ID,
    TABLES,
    ArchiveWriter,
    Progress,
    json_of,
    quiet,
    written_whole,
)
from evenhand.studio.store.json_rows import HEARD, exported_columns, to_json
from evenhand.studio.store.layout import disk_errors
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import takes

Rows = dict[str, list[dict[str, Any]]]

_README = """This is a whole studio of Evenhand: students, weeks, takes, recordings, the book.

tables/      for a spreadsheet
recordings/  the takes as sound; tables/takes.csv says which is which
heard/       what was heard of each take, one JSON file a take
data/        all rows, for evenhand import-studio, which makes an equal studio of this file

It holds what your students trusted you with. Keep it as you keep the studio.
"""
_SPREADSHEETS: Mapping[str, str] = {
    "students": (
        "name stage minor consent_by consent_on lesson_day lesson_time minutes_a_day days_a_week notes "
        "archived id"
    ),
    "weeks": "student starts stage words sent_at id",
    "takes": "student recorded_at exercise tempo stroke source status seconds words reason recording id",
    "book": "position section title text id",
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
        with studio.data.database.reading() as connection:
            rows = {table.name: _rows(connection, table) for table in TABLES}
            _add_heard(export, connection)
        for name, those in rows.items():
            export.add_text(f"data/{name}.json", json_of(those))
        for name, columns in _SPREADSHEETS.items():
            export.add_text(f"tables/{name}.csv", _csv(_with_names(rows, name), columns.split()))
        keys = {take[which] for take in rows["takes"] for which in ("recording", "original")} - {None}
        export.add_recordings(studio.data.recordings.folder, sorted(keys), progress)
        export.finish(SCHEMA_ID, studio.data.now())


def _rows(connection: Connection, table: Table) -> list[dict[str, Any]]:
    query = select(*exported_columns(table)).order_by(table.c.id)
    return [to_json(dict(row), table) for row in connection.execute(query).mappings()]


def _add_heard(export: ArchiveWriter, connection: Connection) -> None:
    """Add what was heard, take by take, without holding it all."""
    query = select(takes.c.id, takes.c.heard).where(takes.c.heard.is_not(None)).order_by(takes.c.id)
    for take_id, heard in connection.execution_options(yield_per=50).execute(query):
        export.add_text(f"{HEARD}/{take_id}.json", heard)


def _with_names(rows: Rows, table: str) -> Iterable[dict[str, Any]]:
    """Say a student's name beside each row that is of one."""
    names = {student["id"]: student["name"] for student in rows["students"]}
    return [{**row, "student": names.get(row.get("student_id"))} for row in rows[table]]


def _csv(rows: Iterable[dict[str, Any]], columns: Sequence[str]) -> str:
    """Write rows for a spreadsheet, which must not take a cell for a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([_cell(row[column]) for column in columns] for row in rows)
    return out.getvalue()


def _cell(value: object) -> object:
    return (
        f"'{value}"
        if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r"))
        else value
    )
