"""The first form of a studio's database."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make all tables."""
    for make in (_studio, _students, _links, _sessions, _weeks, _takes, _devices, _book):
        make()


def downgrade() -> None:
    """Drop all tables, those first that lean on others."""
    for table in ("book", "devices", "takes", "weeks", "sessions", "links", "students", "studio"):
        op.drop_table(table)


def _studio() -> None:
    op.create_table(
        "studio",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("demo", sa.Boolean(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("keep_originals", sa.Boolean(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("scrub_due", sa.Boolean(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_studio_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_studio")),
    )


def _students() -> None:
    op.create_table(
        "students",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("minor", sa.Boolean(), nullable=False),
        sa.Column("consent_by", sa.String(), nullable=False),
        sa.Column("consent_on", sa.Date(), nullable=True),
        sa.Column("lesson_day", sa.Integer(), nullable=True),
        sa.Column("lesson_time", sa.String(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("minutes_a_day", sa.Float(), nullable=False),
        sa.Column("days_a_week", sa.Integer(), nullable=False),
        sa.Column("archived", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_students")),
    )


def _links() -> None:
    op.create_table(
        "links",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("revoked_at", MOMENT, nullable=True),
        sa.Column("last_used_at", MOMENT, nullable=True),
        sa.Column("secret_sha256", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_links_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_links")),
        sa.UniqueConstraint("secret_sha256", name=op.f("uq_links_secret_sha256")),
    )
    op.create_index(op.f("ix_links_student_id"), "links", ["student_id"])


def _sessions() -> None:
    op.create_table(
        "sessions",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=True),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("secret_sha256", sa.String(), nullable=False),
        sa.CheckConstraint("role IN ('teacher', 'student')", name=op.f("ck_sessions_role")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_sessions_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("secret_sha256", name=op.f("uq_sessions_secret_sha256")),
    )
    op.create_index(op.f("ix_sessions_student_id"), "sessions", ["student_id"])


def _weeks() -> None:
    op.create_table(
        "weeks",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("starts", sa.Date(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("plan", sa.String(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("sent_at", MOMENT, nullable=True),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_weeks_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weeks")),
    )
    op.create_index(op.f("ix_weeks_student_id_starts"), "weeks", ["student_id", "starts"])


def _takes() -> None:
    op.create_table(
        "takes",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("upload_key", sa.String(), nullable=False),
        sa.Column("exercise", sa.String(), nullable=False),
        sa.Column("tempo", sa.String(), nullable=False),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("received_at", MOMENT, nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("stroke", sa.String(), nullable=True),
        sa.Column("click", sa.String(), nullable=False),
        sa.Column("recording", sa.String(), nullable=True),
        sa.Column("original", sa.String(), nullable=True),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("reason", sa.String(), nullable=True),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("model", sa.Boolean(), nullable=False),
        sa.Column("corrected", sa.Boolean(), nullable=False),
        sa.Column("latency_ms", sa.Float(), nullable=True),
        sa.Column("device_id", sa.String(), nullable=True),
        sa.Column("tried", sa.Integer(), nullable=False),
        sa.Column("original_name", sa.String(), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.Column("progress", sa.Float(), nullable=False),
        sa.Column("claimed_by", sa.String(), nullable=True),
        sa.Column("claimed_at", MOMENT, nullable=True),
        sa.Column("heard", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint("source IN ('microphone', 'upload', 'teacher')", name=op.f("ck_takes_source")),
        sa.CheckConstraint(
            "status IN ('waiting', 'hearing', 'heard', 'failed')", name=op.f("ck_takes_status")
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_takes_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_takes")),
        sa.UniqueConstraint("student_id", "upload_key", name=op.f("uq_takes_student_id_upload_key")),
    )
    op.create_index(op.f("ix_takes_original"), "takes", ["original"])
    op.create_index(op.f("ix_takes_received_at"), "takes", ["received_at"])
    op.create_index(op.f("ix_takes_recording"), "takes", ["recording"])
    op.create_index(op.f("ix_takes_status_received_at"), "takes", ["status", "received_at"])
    op.create_index(op.f("ix_takes_student_id_received_at"), "takes", ["student_id", "received_at"])


def _devices() -> None:
    op.create_table(
        "devices",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("latency_ms", sa.Float(), nullable=True),
        sa.Column("measured_at", MOMENT, nullable=True),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_devices_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_devices")),
    )
    op.create_index(op.f("ix_devices_student_id"), "devices", ["student_id"])


def _book() -> None:
    op.create_table(
        "book",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("section", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_book")),
    )
