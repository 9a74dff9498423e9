"""Tables as CSV: a heading, and rows that are counted as a spreadsheet counts them, the heading being row 1.

Conventions: commas stand between the cells, or semicolons, as the heading has them. Cells are read without
the spaces around them, columns without regard to capitals. Rows with nothing in them are passed over.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

from evenhand.errors import BadText


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row: its number, its place in words, and its cells by column; a column left out is empty."""

    number: int
    where: str
    cells: Mapping[str, str]
    error: type[BadText]

    def __getitem__(self, column: str) -> str:
        """Return a cell, empty where it was left out."""
        return self.cells.get(column, "")

    def fail(self, column: str, must_be: str, got: str | None = None) -> NoReturn:
        """Refuse what stands in a column."""
        got = repr(self[column]) if got is None else got
        raise self.error(where=f"{self.where}, column {column}", got=got, must_be=must_be)


def read_rows(
    text: str,
    *,
    name: str,
    needed: Sequence[str],
    optional: Sequence[str],
    error: type[BadText],
    must_be: str = "",
) -> tuple[TableRow, ...]:
    """Read a table; ``must_be`` says what its heading is, where that is not all of ``needed``.

    Raises
    ------
    BadText
        As the ``error`` that is given, naming the row.
    """
    lines = _checked(text, name, error)
    columns = [column.lower() for column in next(lines, (1, []))[1]]
    must_be = must_be or f"{','.join(needed)} and, if wanted, {', '.join(optional)}"
    wrong = _wrong_heading(columns, needed, optional)
    if wrong is not None:
        raise error(where=f"{name}, row 1", got=wrong, must_be=must_be)
    return tuple(_row(number, cells, columns, name, error) for number, cells in lines)


def _wrong_heading(columns: Sequence[str], needed: Sequence[str], optional: Sequence[str]) -> str | None:
    """Say what is wrong with a heading: a column that is lacking, not known, or there twice."""
    if not columns or any(column not in columns for column in needed):
        return f"the columns {', '.join(columns) or 'none'}"
    for column in columns:
        times = columns.count(column)
        if column not in (*needed, *optional) or times > 1:
            return f"the column {column!r}" + (f" {times} times" if times > 1 else "")
    return None


def _row(
    number: int, cells: Sequence[str], columns: Sequence[str], name: str, error: type[BadText]
) -> TableRow:
    where = f"{name}, row {number}"
    if any(cells[len(columns) :]):
        must_be = f"{len(columns)}, as in the heading; double quotes around a cell with a comma"
        raise error(where=where, got=f"{len(cells)} cells", must_be=must_be)
    return TableRow(number, where, dict(zip(columns, cells, strict=False)), error)


def _checked(text: str, name: str, error: type[BadText]) -> Iterator[tuple[int, list[str]]]:
    """Give the rows, and say in which one something is no CSV."""
    number = 0
    try:
        for number, cells in rows_of(text, strict=True):
            yield number, cells
    except csv.Error as wrong:
        must_be = "comma-separated values, a cell with a comma or a line break inside double quotes"
        raise error(where=f"{name}, row {number + 1}", got=str(wrong), must_be=must_be) from wrong


def rows_of(text: str, between: str = ",;", *, strict: bool = False) -> Iterator[tuple[int, list[str]]]:
    """Split CSV into rows of cells, with their numbers; one of ``between`` stands between the cells.

    ``strict`` raises ``csv.Error`` where quotes do not match.
    """
    text = text.removeprefix("\ufeff")
    delimiter = max(between, key=text.partition("\n")[0].count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=strict)
    for number, row in enumerate(reader, start=1):
        cells = [cell.strip() for cell in row]
        if any(cells):
            yield number, cells
