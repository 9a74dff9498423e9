"""Rows to values of the domain and back. A column has the name of its field, so no table maps them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import Column, RowMapping, Table

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Value = TypeVar("Value", bound="DataclassInstance")


@cache
def names_of(kind: type[DataclassInstance]) -> tuple[str, ...]:
    """Name a value's fields, in their order."""
    return tuple(each.name for each in fields(kind))


def columns_of(table: Table, kind: type[DataclassInstance], *, without: str = "") -> Sequence[Column[Any]]:
    """List the columns that make a value, maybe without a long one."""
    return [table.c[name] for name in names_of(kind) if name in table.c and name != without]


def value_of(kind: type[Value], row: RowMapping) -> Value:
    """Make a value of a row that has its columns."""
    return kind(**{name: row[name] for name in names_of(kind) if name in row})


def values_of(value: DataclassInstance) -> dict[str, Any]:
    """List a value's fields for a row."""
    return {name: getattr(value, name) for name in names_of(type(value))}


def check_fields(kind: type[DataclassInstance], changes: dict[str, Any], *, fixed: frozenset[str]) -> None:
    """Refuse to change what is no field, or what stays as it is."""
    known = set(names_of(kind)) - fixed
    for name in changes:
        if name not in known:
            raise TypeError(f"{kind.__name__}: {name!r} cannot be changed; it must be one of {sorted(known)}")
