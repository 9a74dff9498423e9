"""A list of takes as a CSV file: ``file,exercise,tempo[,click]``, paths relative to the list."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from evenhand.application.asked import Asked
from evenhand.errors import BadExercise, BadList, BadTempo, WrongOptions

NEEDED = ("file", "exercise", "tempo")
KNOWN = (*NEEDED, "click")
MOST_TAKES = 10_000


@dataclass(frozen=True, slots=True)
class ListedTake:
    """One row: where the take lies, what it is, and the name its results go by."""

    row: int
    path: Path
    asked: Asked
    stem: str


def read_list(text: str, *, name: str, folder: Path) -> tuple[ListedTake, ...]:
    """Read a list of takes. Rows are counted as a spreadsheet counts them: the heading is row 1.

    Raises
    ------
    BadList
        Naming the row and the column of the first thing that cannot be read.
    """
    rows = _rows(text, name)
    heading = next(rows, (1, []))[1]
    columns = _columns(heading, name)
    takes = [_take(row, cells, columns, name=name, folder=folder) for row, cells in islice(rows, MOST_TAKES)]
    if next(rows, None) is not None:
        raise BadList(where=name, got=f"more than {MOST_TAKES:,} takes", must_be="several lists")
    if not takes:
        raise BadList(where=name, got="no takes", must_be="a heading and at least one row below it")
    return tuple(_told_apart(takes))


def _rows(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Give each row that says something, with its number."""
    text = text.removeprefix("\ufeff")
    heading = text.partition("\n")[0]
    delimiter = ";" if ";" in heading and "," not in heading else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    row = 0
    try:
        for row, cells in enumerate(reader, start=1):
            if any(cell.strip() for cell in cells):
                yield row, [cell.strip() for cell in cells]
    except csv.Error as error:
        must_be = "comma-separated values, a cell with a comma or a line break inside double quotes"
        raise BadList(where=f"{name}, row {row + 1}", got=str(error), must_be=must_be) from error


def _columns(heading: list[str], name: str) -> list[str]:
    """Check the heading: the needed columns, each once, and none unknown."""
    columns = [column.lower() for column in heading]
    for column in NEEDED:
        if column not in columns:
            got = f"the columns {', '.join(columns) or 'none'}"
            raise BadList(
                where=f"{name}, row 1", got=got, must_be="file,exercise,tempo and, if wanted, click"
            )
    for column, times in Counter(columns).items():
        if column not in KNOWN or times > 1:
            got = f"the column {column!r}" + (f" {times} times" if times > 1 else "")
            raise BadList(
                where=f"{name}, row 1", got=got, must_be="file,exercise,tempo and, if wanted, click"
            )
    return columns


def _take(row: int, cells: list[str], columns: list[str], *, name: str, folder: Path) -> ListedTake:
    """Read one row."""
    if len(cells) > len(columns):
        raise BadList(
            where=f"{name}, row {row}",
            got=f"{len(cells)} cells",
            must_be=f"{len(columns)}, as in the heading; double quotes around a cell with a comma",
        )
    cell = dict(zip(columns, cells, strict=False))
    if not cell.get("file") or "\0" in cell["file"]:
        got = "a path with a zero byte" if cell.get("file") else "nothing"
        raise BadList(where=f"{name}, row {row}, column file", got=got, must_be="a recording's path")
    path = folder / cell["file"]
    try:
        asked = Asked.read(cell.get("exercise"), cell.get("tempo"), cell.get("click", "auto"))
    except (BadExercise, BadTempo, WrongOptions) as error:
        raise _in_its_cell(error, f"{name}, row {row}") from error
    return ListedTake(row, path, asked, path.stem)


def _in_its_cell(error: BadExercise | BadTempo | WrongOptions, row: str) -> BadList:
    """Say in which cell of the list an error lies."""
    match error:
        case BadExercise():
            where = f"{row}, column exercise, at its character {error.column}"
            return BadList(where=where, got=error.found, must_be=error.must_be)
        case BadTempo():
            return BadList(where=f"{row}, column tempo", got=error.got, must_be=error.must_be)
        case WrongOptions():
            column = "click" if error.got.startswith("click") else "tempo"
            return BadList(where=f"{row}, column {column}", got=error.got, must_be=error.must_be)


def _told_apart(takes: list[ListedTake]) -> Iterator[ListedTake]:
    """Give takes of the same stem names of their own: ``a``, ``a-2`` ...; no case-blind clash."""
    used: set[str] = set()
    reached: Counter[str] = Counter()  # how far the numbers of a stem went, so that none is tried twice
    listed = {take.stem.casefold() for take in takes}
    for take in takes:
        stem, count = take.stem, 1
        if stem.casefold() in used:
            count = max(2, reached[take.stem] + 1)
            stem = f"{take.stem}-{count}"
        while stem.casefold() in used or (count > 1 and stem.casefold() in listed):
            count += 1
            stem = f"{take.stem}-{count}"
        reached[take.stem] = max(count, reached[take.stem])
        used.add(stem.casefold())
        yield ListedTake(take.row, take.path, take.asked, stem)
