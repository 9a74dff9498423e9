"""What acts write and read as text: values as JSON, what people edit field by field, tables as CSV.

JSON: numbers are rounded by the unit that their name or their figure carries.

Conventions: a value's fields are the document's keys; a rate is in Hz there as well. There is no NaN and no
infinity: one that got this far is an error of ours and raises.

Fields: each is read as what it must be, or refused by its name.

Conventions: an object is what JSON and TOML call one, read into a dict. A place is said as names with commas
between, such as ``week.json, day 2, item 1, tempo``.

Tables: a heading, and rows that are counted as a spreadsheet counts them, the heading being row 1.

Conventions: commas stand between the cells, or semicolons, as the heading has them. Cells are read without
the spaces around them, columns without regard to capitals. Rows with nothing in them are passed over.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import msgspec

from evenhand.errors import BadExercise, BadTempo, BadText

Json = dict[str, Any]
Value = TypeVar("Value")

DIGITS: Mapping[str, int] = {"s": 7, "seconds": 7}
OTHER_DIGITS = 5


def json_of(document: Json | list[Json]) -> str:
    """Write JSON text, ending in a line break; no NaN and no infinity can be in it."""
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def plain(value: object, digits: Mapping[str, int] = DIGITS) -> Json:
    """Turn values into dicts, lists and numbers.

    Parameters
    ----------
    value
        A dataclass or a mapping. In it lie dataclasses, mappings, sequences, numbers (an array's, too), days
        and text.
    digits
        Decimals by unit: of a number's key (``time_s``), of its last part (``s``), or of the ``unit`` that
        stands beside it. What lies inside a key with a unit goes by it, until another is met.
    """
    document = msgspec.to_builtins(value, enc_hook=_number_of_an_array)
    rounded: Json = _rounded(document, digits, OTHER_DIGITS)
    return rounded


def _number_of_an_array(value: Any) -> object:  # noqa: ANN401 - any value
    return value.item()


def _rounded(value: Any, digits: Mapping[str, int], places: int) -> Any:  # noqa: ANN401 - any JSON
    if isinstance(value, float):
        return round(value, places) + 0.0 if math.isfinite(value) else value  # -0.0 becomes 0.0
    if isinstance(value, (list, tuple)):
        return [_rounded(each, digits, places) for each in value]
    if not isinstance(value, dict):
        return value
    places = digits.get(value["unit"], OTHER_DIGITS) if "unit" in value else places
    return {
        "rate" if key == "rate_hz" else key: _rounded(inside, digits, _places(key, digits, places))
        for key, inside in value.items()
    }


def _places(key: str, digits: Mapping[str, int], otherwise: int) -> int:
    return digits.get(key, digits.get(key.rsplit("_", 1)[-1], otherwise))


def loaded(text: str | bytes) -> Any:  # noqa: ANN401 - any JSON
    """Read JSON text.

    Raises
    ------
    ValueError
        Where it is not JSON, or lies deeper than anything of ours.
    """
    try:
        return msgspec.json.decode(text)
    except RecursionError as error:
        raise ValueError("lists within lists without end") from error


def value_of(found: object, kind: type[Value]) -> Value:
    """Make a value of what JSON is made of; keys that it does not have are passed over.

    Raises
    ------
    ValueError
        Naming what must be, what was got, and where.
    """
    return msgspec.convert(found, kind)


MOST_LETTERS = 2000  # of a text
_SHOWN = 60

Read = TypeVar("Read")
Known = TypeVar("Known", bound=str)


def read_text_file(path: Path, *, error: type[BadText], largest_bytes: int, must_be: str) -> str:
    """Read a text file, with or without a byte order mark.

    Raises
    ------
    BadText
        As the ``error`` that is given, naming the file.
    """
    try:
        with path.open("rb") as file:  # not its size first: a device has none
            data = file.read(largest_bytes + 1)
    except FileNotFoundError as wrong:
        raise error(where=str(path), got="no such file", must_be=must_be) from wrong
    except (OSError, ValueError) as wrong:  # a path with a zero byte
        got = getattr(wrong, "strerror", None) or str(wrong)
        raise error(where=str(path), got=got, must_be=must_be) from wrong
    if len(data) > largest_bytes:
        raise error(where=str(path), got=f"more than {largest_bytes / 2**20:g} MB", must_be=must_be)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise error(where=str(path), got="UTF-16 text", must_be="saved as UTF-8 text")
    if b"\0" in data:
        raise error(where=str(path), got="bytes that are not text", must_be=must_be)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        where = f"{path}, line {line}"
        raise error(where=where, got="a letter that is not UTF-8", must_be="saved as UTF-8 text") from wrong


class Fields:
    """An object's fields, each read as what it must be or refused by its name, as the error that is given.

    Where what should be an object is none, ``must_be`` says what it should have been.
    """

    def __init__(
        self, found: object, where: str, error: type[BadText], must_be: str = "an object with names"
    ) -> None:
        self.where, self._error = where, error
        if not isinstance(found, dict):
            raise error(where=where, got=kind_of(found), must_be=must_be)
        self.found: dict[str, object] = found

    def fail(self, key: str, must_be: str, got: str | None = None) -> NoReturn:
        """Refuse what stands under a key."""
        said = got or (shown(self.found[key]) if key in self.found else "nothing")
        raise self._error(where=f"{self.where}, {key}", got=said, must_be=must_be)

    def only(self, known: Sequence[str]) -> None:
        """Refuse keys that are not known, so that none is misspelt in silence."""
        for key in self.found:
            if key not in known:
                must_be = f"one of {', '.join(known)}{guess(key, known)}"
                raise self._error(where=self.where, got=f"the key {key!r}", must_be=must_be)

    def words(self, key: str, *, needed: bool = False) -> str:
        """Read text; it may be left out where it is not needed."""
        text = self.found.get(key) or ""
        if not isinstance(text, str) or (needed and not text.strip()):
            self.fail(key, "text")
        if len(text) > MOST_LETTERS:
            self.fail(key, f"at most {MOST_LETTERS} characters", f"{len(text)} characters")
        if any("\ud800" <= letter <= "\udfff" for letter in text):
            self.fail(key, "text that can be written", "half of a letter")
        return text.strip()

    def read(self, key: str, reader: Callable[[str], Read], must_be: str) -> Read:
        """Read a needed text by a reader of its own, such as an exercise's."""
        text = self.found.get(key)
        if not isinstance(text, str):
            self.fail(key, must_be)
        try:
            return reader(text)
        except BadExercise as error:
            where = f"{self.where}, {key}, at its character {error.column}"
            raise self._error(where=where, got=error.found, must_be=error.must_be) from error
        except BadTempo as error:
            self.fail(key, error.must_be, error.got)

    def number(self, key: str, least: float, most: float, must_be: str) -> float:
        """Read a number in a range, both ends included."""
        return self.number_in(key, self.found.get(key), least, most, must_be)

    def number_in(self, key: str, value: object, least: float, most: float, must_be: str) -> float:
        """Read a number that stands inside a key's value."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fail(key, must_be)
        if not (math.isfinite(value) and least <= value <= most):
            self.fail(key, must_be)
        return float(value)

    def whole(self, key: str, least: int, most: int) -> int:
        """Read a whole number in a range, both ends included."""
        value = self.found.get(key)
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            self.fail(key, f"a whole number, {least} to {most}")
        return value

    def choice(self, key: str, known: Sequence[Known]) -> Known | None:
        """Read one of some words; None where it is left out."""
        value = self.found.get(key)
        return None if value is None else self.choice_in(key, value, known)

    def choice_in(self, key: str, value: object, known: Sequence[Known]) -> Known:
        """Read one of some words that stands inside a key's value."""
        found = next((each for each in known if each == value), None)
        if found is None:
            self.fail(key, f"{', '.join(known[:-1])} or {known[-1]}", shown(value))
        return found

    def inside(
        self, key: str, name: str, least: int, most: int, must_be: str = "a list"
    ) -> Iterator[tuple[str, object]]:
        """Give what a list holds, each with its place; ``name`` is what one of them is called."""
        found = self.found.get(key, [])
        if not isinstance(found, list):
            self.fail(key, must_be)
        if not least <= len(found) <= most:
            raise self._error(where=self.where, got=f"{len(found)} {name}s", must_be=f"{least} to {most}")
        for number, each in enumerate(found, start=1):
            yield f"{self.where}, {name} {number}", each


def kind_of(value: object) -> str:
    """Say what kind of thing JSON or TOML holds.

    >>> kind_of([]), kind_of(2.5), kind_of(None)
    ('a list', 'a number', 'null')
    """
    for kind, words in ((dict, "an object"), (list, "a list"), (str, "text"), (bool, "true or false")):
        if isinstance(value, kind):
            return words
    return "null" if value is None else "a number" if isinstance(value, (int, float)) else "something else"


def shown(value: object) -> str:
    """Show a value as it stood, cut where it is long."""
    text = json.dumps(value, ensure_ascii=False, default=str).encode(errors="backslashreplace").decode()
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


def guess(text: str, known: Sequence[str]) -> str:
    """Name the known word that was perhaps meant, in brackets; nothing where there is none."""
    close = get_close_matches(text, known, n=1)
    return f" (perhaps {close[0]})" if close else ""


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
    columns = [" ".join(column.lower().split()) for column in next(lines, (1, []))[1]]
    must_be = must_be or f"{','.join(needed)} and, if wanted, {', '.join(optional)}"
    wrong = _wrong_heading(columns, needed, optional)
    if wrong is not None:
        raise error(where=f"{name}, row 1", got=wrong, must_be=must_be)
    return tuple(_row(number, cells, columns, name, error) for number, cells in lines)


def _wrong_heading(columns: Sequence[str], needed: Sequence[str], optional: Sequence[str]) -> str | None:
    """Say what is wrong with a heading: a column that is lacking, not known, or there twice."""
    if not columns or any(column not in columns for column in needed):
        return f"the columns {', '.join(columns)[:200] or 'none'}"
    for column in columns:
        times = columns.count(column)
        if column not in (*needed, *optional) or times > 1:
            return f"the column {column[:80]!r}" + (f" {times} times" if times > 1 else "")
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
