"""The tables of a studio. A column is named as the field of the domain that it keeps.

Secrets are never in here: of a password there is an Argon2 hash, of a link's or a session's
secret its SHA-256, and that of the second factor is sealed with the password. The migrations build the
same tables step by step; a test holds them together.

Rows to values of the domain and back. A column has the name of its field, so no table maps them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import date, datetime
from functools import cache
from types import UnionType
from typing import TYPE_CHECKING, Any, TypeVar, get_args, get_origin, get_type_hints

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Date,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Select,
    Table,
    UniqueConstraint,
    select,
)
from sqlalchemy.types import TypeEngine

from evenhand.errors import WrongOptions
from evenhand.studio.store.layout import FIRST
from evenhand.studio.store.rows.kinds import PackedText, Text, UtcDateTime
from evenhand.studio.values import (
    Act,
    BookChange,
    BookEntry,
    Device,
    HeardVersion,
    Holiday,
    LessonChange,
    OpenSession,
    Role,
    Said,
    Student,
    StudentLink,
    StudioFacts,
    StudioTake,
    TakeOutline,
    TakeSource,
    TakeStatus,
    Urgency,
    Week,
    WeekDraft,
)

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


_COLUMN_TYPES: Mapping[Any, type[TypeEngine[Any]]] = {
    bool: Boolean,
    int: Integer,
    float: Float,
    date: Date,
    datetime: UtcDateTime,
    dict: JSON,
}  # any other field is text


_OF_OTHERS = ("student_id", "take_id", "week_id")


def _fields_of(kind: type[DataclassInstance], *own: str) -> Iterator[Column[Any]]:
    """Make a column of each field of a value, but for those named; what may be None may be NULL."""
    for name, hint in get_type_hints(kind).items():
        if name in {"id", *_OF_OTHERS, *own}:
            continue
        may_be_none = get_origin(hint) is UnionType
        bare = get_args(hint)[0] if may_be_none else hint
        yield Column(name, _COLUMN_TYPES.get(get_origin(bare) or bare, Text), nullable=may_be_none)


def _one_of(column: str, choices: object) -> CheckConstraint:
    """Let a column hold one of a literal type's words only."""
    words = ", ".join(f"'{word}'" for word in get_args(choices))
    return CheckConstraint(f"{column} IN ({words})", name=column)


def _ids(kind: type[TypeEngine[Any]] = Text) -> tuple[Column[Any], Column[str]]:
    """Make the id, and the column that says whose studio a row is of: in a Postgres its default knows."""
    studio_id = Column("studio_id", Text, nullable=False, server_default=FIRST)
    return Column("id", kind, primary_key=True), studio_id


def _of_student(*, index: bool, nullable: bool = False) -> Column[str]:
    """Make the column that says whose a row is; it goes when the student is erased."""
    erased_with = ForeignKey("students.id", ondelete="CASCADE")
    return Column("student_id", Text, erased_with, nullable=nullable, index=index)


def _about(table: str) -> Column[str]:
    """Make the column that says which row of another table a row is about; it goes with that."""
    goes_with = ForeignKey(f"{table}s.id", ondelete="CASCADE")
    return Column(f"{table}_id", Text, goes_with, nullable=True, index=True)


def _secret() -> Column[str]:
    return Column("secret_sha256", Text, nullable=False, unique=True)


studio = Table(  # one row
    "studio",
    metadata,
    *_ids(Integer),
    *_fields_of(StudioFacts),
    Column("password_hash", Text, nullable=False),
    Column("feed_sha256", Text),  # of the secret in the calendar's address
    Column("scrub_due", Boolean, nullable=False),  # erased, but pages not yet cleaned
    Column("second_sealed", Text, nullable=False, default=""),  # the second factor: store/second.py
    Column("second_used_step", Integer, nullable=False, default=0),
    Column("second_recovery", Text, nullable=False, default=""),
    CheckConstraint("id = 1", name="only_one"),
)

students = Table("students", metadata, *_ids(), *_fields_of(Student))

links = Table("links", metadata, *_ids(), _of_student(index=True), *_fields_of(StudentLink), _secret())

sessions = Table(
    "sessions",
    metadata,
    *_ids(),
    _of_student(index=True, nullable=True),
    *_fields_of(OpenSession),
    _secret(),
    _one_of("role", Role),
)

known_devices = Table(  # from which the teacher came in before
    "known_devices", metadata, *_ids(), _secret(), Column("used_at", UtcDateTime, nullable=False)
)

acts = Table(  # who did what; never what is in a recording
    "acts", metadata, *_ids(), *_fields_of(Act), Index(None, "at")
)

weeks = Table(
    "weeks",
    metadata,
    *_ids(),
    _of_student(index=False),
    *_fields_of(Week, "created_at"),
    Column("created_at", UtcDateTime, nullable=False),
    Index(None, "student_id", "starts"),
)

drafts = Table(  # weeks' forms as they were typed; one that was done with stays as an empty one
    "drafts",
    metadata,
    *_ids(),
    _of_student(index=False),
    *_fields_of(WeekDraft),
    UniqueConstraint("student_id", "of_week"),
)

takes = Table(
    "takes",
    metadata,
    *_ids(),
    _of_student(index=False),
    *_fields_of(StudioTake, "heard"),
    Column("heard", PackedText),
    Column("claimed_by", Text),  # the worker that hears it, and when it last said so
    Column("claimed_at", UtcDateTime),
    Column("waits_until", UtcDateTime),  # hearing it broke off, and is tried again then
    UniqueConstraint("student_id", "upload_key"),
    _one_of("source", TakeSource),
    _one_of("status", TakeStatus),
    _one_of("urgency", Urgency),
    Index(None, "recording"),
    Index(None, "original"),
    Index(None, "student_id", "recorded_at"),
    Index(None, "received_at"),
    Index(None, "status", "urgency", "received_at"),
)

hearings = Table(  # versions of what was heard that are not shown, and what is to be heard beside
    "hearings",
    metadata,
    *_ids(),
    Column("take_id", Text, ForeignKey("takes.id", ondelete="CASCADE"), nullable=False),
    *_fields_of(HeardVersion, "heard"),
    Column("heard", PackedText),
    Column("claimed_by", Text),  # as in takes
    Column("claimed_at", UtcDateTime),
    UniqueConstraint("take_id", "ear"),
    _one_of("status", TakeStatus),
    Index(None, "status", "asked_at"),
)

said = Table(
    "said",
    metadata,
    *_ids(),
    _of_student(index=True),
    _about("take"),
    _about("week"),
    *_fields_of(Said),
    _one_of("who", Role),
    Index(None, "recording"),
)

devices = Table("devices", metadata, *_ids(), _of_student(index=True), *_fields_of(Device))

lesson_changes = Table(
    "lesson_changes",
    metadata,
    *_ids(),
    _of_student(index=False),
    *_fields_of(LessonChange),
    UniqueConstraint("student_id", "day"),
)

holidays = Table("holidays", metadata, *_ids(), _of_student(index=True, nullable=True), *_fields_of(Holiday))

book = Table("book", metadata, *_ids(), *_fields_of(BookEntry))

book_changes = Table("book_changes", metadata, *_ids(), *_fields_of(BookChange))  # the last, to be undone


made = Table(  # of a student's takes, so that no page waits for it
    "made",
    metadata,
    *_ids(),
    _of_student(index=False),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("content", PackedText, nullable=False),
    UniqueConstraint("student_id", "kind"),
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
    TakeOutline: takes,
    HeardVersion: hearings,
    Said: said,
    Device: devices,
    LessonChange: lesson_changes,
    Holiday: holidays,
    BookEntry: book,
    BookChange: book_changes,
}


def columns_of(table: Table) -> list[Column[Any]]:
    """List a table's columns, but for whose studio a row is of: that goes without saying."""
    return [column for column in table.columns if column.name != "studio_id"]


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
