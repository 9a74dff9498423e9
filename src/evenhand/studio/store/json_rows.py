"""A table's rows as JSON: in an export, and on the labels beside the recordings.

Conventions: field by field, moments in UTC as ISO 8601. What is of this place and moment stays behind;
what was heard of a take is a text of its own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, Boolean, Column, Date, Float, Integer, Table

from evenhand.studio.store.tables import UtcDateTime

HEARD = "heard"
STAYS: Mapping[str, Mapping[str, Any]] = {  # what is of this place and moment
    "studio": {"scrub_due": False},
    "takes": {"claimed_by": None, "claimed_at": None},
}


class BadValue(ValueError):
    """A value in an export is not what its column holds."""


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
    if isinstance(kind, UtcDateTime):
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
