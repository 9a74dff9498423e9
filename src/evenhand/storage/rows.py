"""Rows to values of the domain and back. A column has the name of its field, so no table maps them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import Column, RowMapping, Table

from evenhand.errors import WrongOptions

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
    """Make a value of a row that has its columns and no others."""
    return kind(**row)


def values_of(value: DataclassInstance) -> dict[str, Any]:
    """List a value's fields for a row."""
    values = {name: getattr(value, name) for name in names_of(type(value))}
    check_text(values)
    return values


def check_text(values: Mapping[str, Any]) -> None:
    """Refuse text that no database holds: with a NUL in it, or half a character."""
    for name, value in values.items():
        if isinstance(value, dict):
            check_text(value)
            check_text({each: each for each in value})
        elif isinstance(value, str) and not _is_text(value):
            raise WrongOptions(got=f"{name} {value[:40]!a}", must_be="text without NUL and half characters")


def _is_text(value: str) -> bool:
    r"""Tell whether text can be kept.

    >>> _is_text("木\n"), _is_text("\0"), _is_text("\ud800")
    (True, False, False)
    """
    return "\0" not in value and not any("\ud800" <= letter <= "\udfff" for letter in value)


def check_fields(kind: type[DataclassInstance], changes: dict[str, Any], *, fixed: frozenset[str]) -> None:
    """Refuse to change what is no field, what stays as it is, and what cannot be kept."""
    known = set(names_of(kind)) - fixed
    for name in changes:
        if name not in known:
            raise TypeError(f"{kind.__name__}: {name!r} cannot be changed; it must be one of {sorted(known)}")
    check_text(changes)
