"""Write a whole studio to one file: whole or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Connection, Table, select

import evenhand
from evenhand.errors import CannotWrite, DiskFull, NotFound
from evenhand.studio.safekeeping.form import (
    HEARD,
    MANIFEST,
    README,
    SCHEMA_ID,
    TABLES,
    exported_columns,
    to_json,
)
from evenhand.studio.store.database import Database
from evenhand.studio.store.kept import Clock
from evenhand.studio.store.layout import trouble_of, whole_file
from evenhand.studio.store.recordings import Recordings
from evenhand.studio.store.tables import takes

Rows = dict[str, list[dict[str, Any]]]

_AT_ONCE = 1 << 20
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


def write_export(
    path: Path,
    database: Database,
    recordings: Recordings,
    *,
    now: Clock,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a studio's export; ``progress`` is told the share of the recordings done."""
    try:
        with whole_file(path) as file:
            write_export_into(file, database, recordings, now=now, progress=progress)
    except OSError as error:
        trouble = trouble_of(error, str(path.parent))
        if isinstance(trouble, DiskFull):
            raise trouble from error
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error


def write_export_into(
    file: IO[bytes],
    database: Database,
    recordings: Recordings,
    *,
    now: Clock,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a studio's export into an open file."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        _write(_Export(archive), database, recordings, now().isoformat(), progress)


@dataclass(slots=True)
class _Export:
    """An export that is being written, and the list of its members."""

    archive: zipfile.ZipFile
    members: dict[str, dict[str, str | int]] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)

    def add_text(self, name: str, text: str) -> None:
        """Add a member of text."""
        data = text.encode("utf-8")
        self.archive.writestr(name, data)
        self.members[name] = {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}

    def add_recording(self, key: str, place: Path) -> None:
        """Add a recording as it is, for it is packed already; its key holds its hash."""
        name, n = f"recordings/{key}", 0
        info = zipfile.ZipInfo(name)
        info.file_size = place.stat().st_size
        with place.open("rb") as source, self.archive.open(info, "w") as target:
            while block := source.read(_AT_ONCE):
                n += target.write(block)
        self.members[name] = {"sha256": _hash_in(key), "bytes": n}


def _write(
    export: _Export,
    database: Database,
    recordings: Recordings,
    moment: str,
    progress: Callable[[float], None] | None,
) -> None:
    """Write all members, the manifest last. The rows are of one moment; recordings never change."""
    export.add_text(README, _README)
    with database.reading() as connection:
        rows = {table.name: _rows(connection, table) for table in TABLES}
        _add_heard(export, connection)
    for name, those in rows.items():
        export.add_text(f"data/{name}.json", _json(those))
    for name, columns in _SPREADSHEETS.items():
        export.add_text(f"tables/{name}.csv", _csv(_with_names(rows, name), columns.split()))
    keys = sorted({take[which] for take in rows["takes"] for which in ("recording", "original")} - {None})
    for done, key in enumerate(keys, start=1):
        _add_recording(export, recordings, key)
        if progress is not None:
            progress(done / len(keys))
    manifest = {
        "schema": SCHEMA_ID,
        "version": evenhand.__version__,
        "exported_at": moment,
        "members": export.members,
        "missing": export.missing,
    }
    export.archive.writestr(MANIFEST, _json(manifest))


def _rows(connection: Connection, table: Table) -> list[dict[str, Any]]:
    query = select(*exported_columns(table)).order_by(table.c.id)
    return [to_json(dict(row), table) for row in connection.execute(query).mappings()]


def _add_heard(export: _Export, connection: Connection) -> None:
    """Add what was heard, take by take, without holding it all."""
    query = select(takes.c.id, takes.c.heard).where(takes.c.heard.is_not(None)).order_by(takes.c.id)
    for take_id, heard in connection.execution_options(yield_per=50).execute(query):
        export.add_text(f"{HEARD}/{take_id}.json", heard)


def _add_recording(export: _Export, recordings: Recordings, key: str) -> None:
    """Add a recording; one that is gone or no longer what its key says is listed as missing."""
    try:
        place = recordings.path(key)
        with place.open("rb") as file:
            sound = hashlib.file_digest(file, "sha256").hexdigest() == _hash_in(key)
        if sound:
            export.add_recording(key, place)
    except (NotFound, FileNotFoundError):
        sound = False
    if not sound:
        export.missing.append(key)


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


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _hash_in(key: str) -> str:
    return Path(key).stem
