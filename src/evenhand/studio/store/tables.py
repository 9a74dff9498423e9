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
from collections.abc import Mapping
from dataclasses import fields
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Select,
    String,
    Table,
    UniqueConstraint,
    select,
)
from sqlalchemy.types import TypeDecorator

from evenhand.errors import WrongOptions
from evenhand.studio.values import (
    Act,
    BookEntry,
    Device,
    OpenSession,
    Role,
    Student,
    StudentLink,
    StudioFacts,
    StudioTake,
    TakeSource,
    TakeStatus,
    Week,
    WeekDraft,
)

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


class UtcDateTime(TypeDecorator[datetime]):
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


class Text(TypeDecorator[str]):
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


class PackedText(TypeDecorator[str]):
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
    return Column("id", Text, primary_key=True)


def _of_student(*, index: bool) -> Column[str]:
    """Make the column that says whose a row is; it goes when the student is erased."""
    return Column(
        "student_id", Text, ForeignKey("students.id", ondelete="CASCADE"), nullable=False, index=index
    )


studio = Table(  # one row
    "studio",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("demo", Boolean, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("unit", Text, nullable=False),
    Column("keep_originals", Boolean, nullable=False),
    Column("language", Text, nullable=False),
    Column("password_hash", Text, nullable=False),
    Column("scrub_due", Boolean, nullable=False),  # erased, but pages not yet cleaned
    CheckConstraint("id = 1", name="only_one"),
)

students = Table(
    "students",
    metadata,
    _id(),
    Column("name", Text, nullable=False),
    Column("stage", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("minor", Boolean, nullable=False),
    Column("consent_by", Text, nullable=False),
    Column("consent_on", Date),
    Column("lesson_day", Integer),
    Column("lesson_time", Text, nullable=False),
    Column("notes", Text, nullable=False),
    Column("minutes_a_day", Float, nullable=False),
    Column("days_a_week", Integer, nullable=False),
    Column("archived", Boolean, nullable=False),
)

links = Table(
    "links",
    metadata,
    _id(),
    _of_student(index=True),
    Column("created_at", UtcDateTime, nullable=False),
    Column("expires_at", UtcDateTime, nullable=False),
    Column("revoked_at", UtcDateTime),
    Column("last_used_at", UtcDateTime),
    Column("secret_sha256", Text, nullable=False, unique=True),
)

sessions = Table(
    "sessions",
    metadata,
    _id(),
    Column("role", Text, nullable=False),
    Column("student_id", Text, ForeignKey("students.id", ondelete="CASCADE"), index=True),
    Column("expires_at", UtcDateTime, nullable=False),
    Column("secret_sha256", Text, nullable=False, unique=True),
    Column("began_at", UtcDateTime),
    Column("seen_at", UtcDateTime),
    Column("browser", Text),
    _one_of("role", Role),
)

known_devices = Table(  # from which the teacher came in before
    "known_devices",
    metadata,
    _id(),
    Column("secret_sha256", Text, nullable=False, unique=True),
    Column("used_at", UtcDateTime, nullable=False),
)

acts = Table(  # who did what; never what is in a recording
    "acts",
    metadata,
    _id(),
    Column("at", UtcDateTime, nullable=False, index=True),
    Column("what", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("about", Text, nullable=False),
    Column("address", Text, nullable=False),
)

weeks = Table(
    "weeks",
    metadata,
    _id(),
    _of_student(index=False),
    Column("starts", Date, nullable=False),
    Column("stage", Text, nullable=False),
    Column("plan", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("sent_at", UtcDateTime),
    Index(None, "student_id", "starts"),
)

drafts = Table(  # weeks' forms as they were typed; one that was done with stays as an empty one
    "drafts",
    metadata,
    _id(),
    _of_student(index=False),
    Column("of_week", Text, nullable=False),
    Column("form", Text, nullable=False),
    Column("changed_at", UtcDateTime, nullable=False),
    Column("page", Text, nullable=False),
    Column("stamp", Integer, nullable=False),
    UniqueConstraint("student_id", "of_week"),
)

takes = Table(
    "takes",
    metadata,
    _id(),
    _of_student(index=False),
    Column("upload_key", Text, nullable=False),
    Column("exercise", Text, nullable=False),
    Column("tempo", Text, nullable=False),
    Column("recorded_at", UtcDateTime, nullable=False),
    Column("received_at", UtcDateTime, nullable=False),
    Column("source", Text, nullable=False),
    Column("status", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("stroke", Text),
    Column("click", Text, nullable=False),
    Column("recording", Text, index=True),
    Column("original", Text, index=True),
    Column("seconds", Float),
    Column("reason", Text),
    Column("words", Text, nullable=False),
    Column("model", Boolean, nullable=False),
    Column("corrected", Boolean, nullable=False),
    Column("latency_ms", Float),
    Column("device_id", Text),
    Column("tried", Integer, nullable=False),
    Column("original_name", Text, nullable=False),
    Column("facts", JSON, nullable=False),
    Column("progress", Float, nullable=False),
    Column("claimed_by", Text),  # the worker that hears it, and when it last said so
    Column("claimed_at", UtcDateTime),
    Column("heard", PackedText),  # last, so that a list of takes need not read past it
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
    Column("label", Text, nullable=False),
    Column("latency_ms", Float),
    Column("measured_at", UtcDateTime),
)

book = Table(
    "book",
    metadata,
    _id(),
    Column("text", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("section", Text, nullable=False),
    Column("position", Integer, nullable=False),
)


Value = TypeVar("Value", bound="DataclassInstance")

TABLE_OF: Mapping[type[DataclassInstance], Table] = {
    StudioFacts: studio,
    Student: students,
    StudentLink: links,
    OpenSession: sessions,
    Act: acts,
    Week: weeks,
    WeekDraft: drafts,
    StudioTake: takes,
    Device: devices,
    BookEntry: book,
}


@cache
def names_of(kind: type[DataclassInstance]) -> tuple[str, ...]:
    """Name a value's fields, in their order."""
    return tuple(each.name for each in fields(kind))


def select_of(kind: type[DataclassInstance], *, without: str = "") -> Select[Any]:
    """Ask for a kind of value's rows, maybe without a long column."""
    table = TABLE_OF[kind]
    return select(*(table.c[name] for name in names_of(kind) if name != without))


def values_in(connection: Connection, kind: type[Value], query: Select[Any]) -> list[Value]:
    """List the values of rows that have a kind's columns and no others."""
    return [kind(**row) for row in connection.execute(query).mappings()]


def value_in(connection: Connection, kind: type[Value], query: Select[Any]) -> Value | None:
    """Return the first value that is asked for."""
    row = connection.execute(query).mappings().first()
    return None if row is None else kind(**row)


def value_by_id(connection: Connection, kind: type[Value], value_id: str) -> Value | None:
    """Find a value by its id."""
    return value_in(connection, kind, select_of(kind).where(TABLE_OF[kind].c.id == value_id))


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
