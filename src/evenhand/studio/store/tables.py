"""The tables of a studio. A column is named as the field of the domain that it keeps.

Secrets are never in here: of a password there is an Argon2 hash, of a link's or a session's
secret its SHA-256. The migrations build the same tables step by step; a test holds them together.

Kinds of columns that read the same from SQLite and from Postgres.

Conventions: moments are aware and in UTC; a moment without a zone is refused, since nobody
could say when it was.

Rows to values of the domain and back. A column has the name of its field, so no table maps them.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    RowMapping,
    String,
    Table,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator

from evenhand.errors import WrongOptions
from evenhand.studio.values import Role, TakeSource, TakeStatus

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


class Moment(TypeDecorator[datetime]):
    """A moment in UTC; SQLite keeps no zone, so it is put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment to UTC on its way in."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"moment {value.isoformat()}: got no zone; must be aware, such as in UTC")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - the library's signature
        """Give a moment in UTC on its way out."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Words(TypeDecorator[str]):
    """Text. What no database holds is turned to the sign for it, so that looking for it finds nothing.

    To write such text is refused before it comes here (``rows.check_text``).
    """

    impl = String
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:  # noqa: ARG002 - the library's signature
        """Leave out NUL and halves of characters on the way in."""
        if value is None or (value.isprintable() and value.isascii()):
            return value
        return value.encode("utf-8", "replace").decode("utf-8").replace("\0", "\ufffd")


class Packed(TypeDecorator[str]):
    """Long text, packed: what was heard of a take is some 30 kB of JSON, and a tenth of it packed."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> bytes | None:  # noqa: ARG002 - the library's signature
        """Pack on the way in."""
        return None if value is None else zlib.compress(value.encode("utf-8"))

    def process_result_value(self, value: bytes | None, dialect: Dialect) -> str | None:  # noqa: ARG002 - the library's signature
        """Unpack on the way out."""
        return None if value is None else zlib.decompress(value).decode("utf-8")


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _one_of(column: str, choices: object) -> CheckConstraint:
    """Let a column hold one of a literal type's words only."""
    words = ", ".join(f"'{word}'" for word in get_args(choices))
    return CheckConstraint(f"{column} IN ({words})", name=column)


def _id() -> Column[str]:
    return Column("id", Words, primary_key=True)


def _of_student(*, index: bool) -> Column[str]:
    """Make the column that says whose a row is; it goes when the student is erased."""
    return Column(
        "student_id", Words, ForeignKey("students.id", ondelete="CASCADE"), nullable=False, index=index
    )


studio = Table(  # one row
    "studio",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Words, nullable=False),
    Column("demo", Boolean(create_constraint=False), nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("unit", Words, nullable=False),
    Column("keep_originals", Boolean(create_constraint=False), nullable=False),
    Column("language", Words, nullable=False),
    Column("password_hash", Words, nullable=False),
    Column(
        "scrub_due", Boolean(create_constraint=False), nullable=False
    ),  # erased, but pages not yet cleaned
    CheckConstraint("id = 1", name="only_one"),
)

students = Table(
    "students",
    metadata,
    _id(),
    Column("name", Words, nullable=False),
    Column("stage", Words, nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("minor", Boolean(create_constraint=False), nullable=False),
    Column("consent_by", Words, nullable=False),
    Column("consent_on", Date),
    Column("lesson_day", Integer),
    Column("lesson_time", Words, nullable=False),
    Column("notes", Words, nullable=False),
    Column("minutes_a_day", Float, nullable=False),
    Column("days_a_week", Integer, nullable=False),
    Column("archived", Boolean(create_constraint=False), nullable=False),
)

links = Table(
    "links",
    metadata,
    _id(),
    _of_student(index=True),
    Column("created_at", Moment, nullable=False),
    Column("expires_at", Moment, nullable=False),
    Column("revoked_at", Moment),
    Column("last_used_at", Moment),
    Column("secret_sha256", Words, nullable=False, unique=True),
)

sessions = Table(
    "sessions",
    metadata,
    _id(),
    Column("role", Words, nullable=False),
    Column("student_id", Words, ForeignKey("students.id", ondelete="CASCADE"), index=True),
    Column("expires_at", Moment, nullable=False),
    Column("secret_sha256", Words, nullable=False, unique=True),
    Column("began_at", Moment),
    Column("seen_at", Moment),
    Column("browser", Words),
    _one_of("role", Role),
)

known_devices = Table(  # from which the teacher came in before
    "known_devices",
    metadata,
    _id(),
    Column("secret_sha256", Words, nullable=False, unique=True),
    Column("used_at", Moment, nullable=False),
)

acts = Table(  # who did what; never what is in a recording
    "acts",
    metadata,
    _id(),
    Column("at", Moment, nullable=False, index=True),
    Column("what", Words, nullable=False),
    Column("who", Words, nullable=False),
    Column("about", Words, nullable=False),
    Column("address", Words, nullable=False),
)

weeks = Table(
    "weeks",
    metadata,
    _id(),
    _of_student(index=False),
    Column("starts", Date, nullable=False),
    Column("stage", Words, nullable=False),
    Column("plan", Words, nullable=False),
    Column("words", Words, nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("sent_at", Moment),
    Index(None, "student_id", "starts"),
)

drafts = Table(  # weeks' forms as they were typed; one that was done with stays as an empty one
    "drafts",
    metadata,
    _id(),
    _of_student(index=False),
    Column("of_week", Words, nullable=False),
    Column("form", Words, nullable=False),
    Column("changed_at", Moment, nullable=False),
    Column("page", Words, nullable=False),
    Column("stamp", Integer, nullable=False),
    UniqueConstraint("student_id", "of_week"),
)

takes = Table(
    "takes",
    metadata,
    _id(),
    _of_student(index=False),
    Column("upload_key", Words, nullable=False),
    Column("exercise", Words, nullable=False),
    Column("tempo", Words, nullable=False),
    Column("recorded_at", Moment, nullable=False),
    Column("received_at", Moment, nullable=False),
    Column("source", Words, nullable=False),
    Column("status", Words, nullable=False),
    Column("name", Words, nullable=False),
    Column("stroke", Words),
    Column("click", Words, nullable=False),
    Column("recording", Words, index=True),
    Column("original", Words, index=True),
    Column("seconds", Float),
    Column("reason", Words),
    Column("words", Words, nullable=False),
    Column("model", Boolean(create_constraint=False), nullable=False),
    Column("corrected", Boolean(create_constraint=False), nullable=False),
    Column("latency_ms", Float),
    Column("device_id", Words),
    Column("tried", Integer, nullable=False),
    Column("original_name", Words, nullable=False),
    Column("facts", JSON, nullable=False),
    Column("progress", Float, nullable=False),
    Column("claimed_by", Words),  # the worker that hears it, and when it last said so
    Column("claimed_at", Moment),
    Column("heard", Packed),  # last, so that a list of takes need not read past it
    UniqueConstraint("student_id", "upload_key"),
    _one_of("source", TakeSource),
    _one_of("status", TakeStatus),
    Index(None, "student_id", "recorded_at"),
    Index(None, "received_at"),
    Index(None, "status", "received_at"),
)

devices = Table(
    "devices",
    metadata,
    _id(),
    _of_student(index=True),
    Column("label", Words, nullable=False),
    Column("latency_ms", Float),
    Column("measured_at", Moment),
)

book = Table(
    "book",
    metadata,
    _id(),
    Column("text", Words, nullable=False),
    Column("title", Words, nullable=False),
    Column("section", Words, nullable=False),
    Column("position", Integer, nullable=False),
)


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
