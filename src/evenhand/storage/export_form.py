"""The form of an export: which members a zip has, and rows as JSON.

    manifest.json            schema, version, moment; SHA-256 and length of every other member
    README.txt               what this is, for who opens it
    data/<table>.json        the rows, field by field; moments in UTC as ISO 8601
    heard/<take>.json        what was heard of a take (docs/json.md)
    recordings/ab/<key>      the recordings, by their content
    tables/<table>.csv       the same for people with a spreadsheet; never read back

The teacher's password goes with it as its Argon2 hash and the links as their SHA-256, so both work
on in the new place. Sessions, known devices and the log stay behind: everybody comes
in anew.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, Boolean, Column, Date, Float, Integer, Table

from evenhand.storage.columns import Moment
from evenhand.storage.tables import book, devices, drafts, links, students, studio, takes, weeks

SCHEMA_ID = "urn:evenhand:studio-1"
MANIFEST, README = "manifest.json", "README.txt"
TABLES: tuple[Table, ...] = (studio, students, links, weeks, drafts, takes, devices, book)  # parents first
LATER = frozenset({"drafts"})  # tables that an older export has not
STAYS: Mapping[str, Mapping[str, Any]] = {  # what is of this place and moment
    "studio": {"scrub_due": False},
    "takes": {"claimed_by": None, "claimed_at": None},
}
HEARD = "heard"

_MEMBERS = re.compile(
    r"README\.txt"
    r"|data/(studio|students|links|weeks|drafts|takes|devices|book)\.json"
    r"|tables/(students|weeks|takes|book)\.csv"
    r"|heard/[0-9A-Za-z_-]{1,64}\.json"
    r"|recordings/([0-9a-f]{2})/\3[0-9a-f]{62}\.[a-z0-9]{1,5}"
)


class BadValue(ValueError):
    """A value in an export is not what its column holds."""


def may_be_member(name: str) -> bool:
    """Tell whether an export can have a member of this name; none of them leads out of a folder.

    >>> may_be_member("data/takes.json"), may_be_member("../data/takes.json")
    (True, False)
    """
    return _MEMBERS.fullmatch(name) is not None


def exported_columns(table: Table) -> list[Column[Any]]:
    """List the columns that are written as JSON rows."""
    stays = STAYS.get(table.name, {})
    return [column for column in table.columns if column.name not in stays and column.name != HEARD]


def to_json(row: Mapping[str, Any], table: Table) -> dict[str, Any]:
    """Turn a row to JSON; a take that was in somebody's hands waits again."""
    written = {column.name: _plain(row[column.name]) for column in exported_columns(table)}
    if written.get("status") == "hearing":
        written |= {"status": "waiting", "progress": 0.0}
    return written


def from_json(written: object, table: Table) -> dict[str, Any]:
    """Turn JSON to a row, or refuse it by name."""
    columns = {column.name: column for column in exported_columns(table)}
    if not isinstance(written, dict) or set(written) != set(columns):
        raise BadValue(f"a row of {table.name} has not the fields {', '.join(columns)}")
    row = {name: _value(written[name], column) for name, column in columns.items()}
    return {**row, **STAYS.get(table.name, {})}


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _value(written: object, column: Column[Any]) -> object:
    """Read a value as its column's kind."""
    if written is None and column.nullable:
        return None
    try:
        return _read(written, column)
    except (TypeError, ValueError) as error:
        raise BadValue(f"{column.table.name}.{column.name} is {str(written)[:40]!r}") from error


def _read(written: object, column: Column[Any]) -> object:
    """Read a value, or raise."""
    kind = column.type
    if isinstance(kind, Moment):
        return _moment(written)
    if isinstance(kind, Date):
        return date.fromisoformat(_text(written))
    if isinstance(kind, JSON):
        return {_text(name): _text(value) for name, value in _dict(written).items()}
    if isinstance(kind, Boolean):
        return _exactly(written, bool)
    if isinstance(kind, Float):
        return _number(written)
    return _exactly(written, int) if isinstance(kind, Integer) else _text(written)


def _moment(written: object) -> datetime:
    moment = datetime.fromisoformat(_text(written))
    if moment.tzinfo is None:
        raise ValueError("no zone")
    return moment


def _number(written: object) -> float:
    if isinstance(written, bool) or not isinstance(written, int | float) or not math.isfinite(written):
        raise ValueError("no number")
    return float(written)


def _exactly(written: object, kind: type) -> object:
    if type(written) is not kind:
        raise ValueError("of another kind")
    return written


def _text(written: object) -> str:
    if not isinstance(written, str) or "\0" in written:
        raise ValueError("no text")
    return written


def _dict(written: object) -> dict[object, object]:
    if not isinstance(written, dict):
        raise TypeError("no object")
    return written
