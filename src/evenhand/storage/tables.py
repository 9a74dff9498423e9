"""The tables of a studio. A column is named as the field of the domain that it keeps.

Secrets are never in here: of a password there is an Argon2 hash, of a link's or a session's
secret its SHA-256. The migrations build the same tables step by step; a test holds them together.
"""

from __future__ import annotations

from typing import get_args

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    UniqueConstraint,
)

from evenhand.domain.studio import Role, TakeSource, TakeStatus
from evenhand.storage.columns import Moment, Packed, Words

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
