"""A studio's table across students and years, bit by bit while it is made: as CSV, or as Parquet.

Conventions: students by id, takes by when they were recorded. Takes are read some at a time, and nothing is
held open in between: a table that takes long keeps nobody from writing or erasing. So what comes or goes
meanwhile may be in it or not. The teacher's own takes and models are not in it. Text is UTF-8.

Parquet is made of the CSV by DuckDB (extra ``parquet``), a block of rows at a time.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from evenhand.acts.takes.figures import Row
from evenhand.errors import CannotWrite, WrongOptions
from evenhand.studio.desk import is_students
from evenhand.studio.safekeeping.export import safe_cell
from evenhand.studio.safekeeping.form import Progress, quiet, written_whole
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import TakeOutline
from evenhand.studio.whole.rows import (
    COLUMNS,
    Holds,
    RowsOf,
    TableColumn,
    TakeAsRead,
    as_read,
    hit_rows,
    take_row,
    week_rows,
)

TAKES_AT_ONCE = 50
ROWS_AT_ONCE = 500
MEMORY = "256MB"  # DuckDB's; what does not fit, it puts beside the table for a while
SQL_TYPES: dict[Holds, str] = {
    "text": "VARCHAR",
    "number": "DOUBLE",
    "count": "BIGINT",
    "yes": "BOOLEAN",
    "moment": "TIMESTAMPTZ",
    "day": "DATE",
}
_ENGINE: dict[str, Any] = {"threads": 1, "memory_limit": MEMORY, "autoinstall_known_extensions": False}
_AS_WRITTEN: dict[str, Any] = {
    "auto_detect": False,
    "delimiter": ",",
    "quotechar": '"',
    "escapechar": '"',
    "parallel": False,
}
_ALL_TIME = datetime.min.replace(tzinfo=UTC)


def columns_of(rows: RowsOf, *, names: bool) -> tuple[TableColumn, ...]:
    """List a table's columns; students' names are among them only where they are asked for."""
    return tuple(column for column in COLUMNS[rows] if names or column.name != "student")


def csv_table(
    studio: Studio, rows: RowsOf, *, names: bool, progress: Progress = quiet, guarded: bool = True
) -> Iterator[bytes]:
    """Make a table as CSV, in pieces as they come.

    Args:
        studio: Whose takes.
        rows: What a row is.
        names: Whether students' names stand beside their ids.
        progress: Told the share of the takes done.
        guarded: Whether a text that a spreadsheet would take for a formula begins with an apostrophe.

    """
    columns = [column.name for column in columns_of(rows, names=names)]
    called = {each.id: each.name for each in studio.students.all(archived=None)}
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, columns)
    writer.writeheader()
    for number, row in enumerate(_rows(studio, rows, called, progress), start=1):
        if names:
            row["student"] = called[str(row["student_id"])]
        writer.writerow({name: csv_cell(value, guarded=guarded) for name, value in row.items()})
        if number % ROWS_AT_ONCE == 0:
            yield _taken(text)
    yield _taken(text)


def parquet_table(
    studio: Studio, rows: RowsOf, place: Path, *, names: bool, progress: Progress = quiet
) -> None:
    """Make a table as a Parquet file.

    Raises
    ------
    WrongOptions
        DuckDB is not installed.
    CannotWrite
        DuckDB could not write it.
    """
    try:
        import duckdb
    except ImportError as error:
        raise WrongOptions(
            got="a table as Parquet, and DuckDB, which writes it, is not installed",
            must_be="a file that ends in .csv; or install Evenhand with its extra: evenhand[parquet]",
        ) from error
    types = {column.name: SQL_TYPES[column.holds] for column in columns_of(rows, names=names)}
    with written_whole(place) as whole, TemporaryDirectory(dir=place.parent, prefix=".table-") as folder:
        between, made = Path(folder) / "table.csv", Path(folder) / "table.parquet"
        with between.open("wb") as file:
            file.writelines(csv_table(studio, rows, names=names, progress=progress, guarded=False))
        try:
            with duckdb.connect(config={**_ENGINE, "temp_directory": folder}) as engine:
                read = engine.read_csv(str(between), columns=types, header=True, **_AS_WRITTEN)
                read.write_parquet(str(made), compression="zstd")
        except duckdb.Error as error:
            raise CannotWrite(name=str(place), got=str(error).partition("\n")[0]) from error
        with made.open("rb") as found:
            shutil.copyfileobj(found, whole)


def _rows(studio: Studio, rows: RowsOf, students: Iterable[str], progress: Progress) -> Iterator[Row]:
    there = sorted(students)
    kept: dict[str, list[TakeOutline]] = {student_id: [] for student_id in there}
    for outline in studio.takes.outlines(_ALL_TIME):
        if outline.student_id in kept and is_students(outline):
            kept[outline.student_id].append(outline)
    many, done = sum(map(len, kept.values())) or 1, 0
    for student_id in there:
        ids = [take.id for take in sorted(kept[student_id], key=lambda take: (take.recorded_at, take.id))]
        takes = _read(studio, ids, partial(_told, progress, done, many))
        if rows == "weeks":
            yield from week_rows(student_id, takes, studio.weeks.all(student_id))
        else:
            for take, heard in takes:
                yield from hit_rows(take, heard) if rows == "hits" else (take_row(take, heard),)
        done += len(ids)


def _told(progress: Progress, before: int, many: int, read: float) -> None:
    progress((before + read) / many)


def _read(studio: Studio, ids: Sequence[str], progress: Progress) -> Iterator[TakeAsRead]:
    """Read takes in the order of their ids, some at a time; those that were erased meanwhile are left out."""
    for start in range(0, len(ids), TAKES_AT_ONCE):
        some = ids[start : start + TAKES_AT_ONCE]
        found = {take.id: take for take in studio.takes.all(ids=some, with_heard=True)}
        yield from (as_read(found[take_id]) for take_id in some if take_id in found)
        progress(start + len(some))


def csv_cell(value: object, *, guarded: bool = True) -> object:
    """Write a value as a cell of a CSV."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    return safe_cell(value) if guarded else value


def _taken(text: io.StringIO) -> bytes:
    """Hand on what was written since the last time."""
    piece = text.getvalue().encode()
    text.seek(0)
    text.truncate()
    return piece
