"""Lessons moved or skipped, holidays, a calendar's secret address, and which takes the teacher heard."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the two tables, and add the columns: nothing is heard by the teacher, no calendar is given."""
    op.create_table(
        "lesson_changes",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("moved_to", sa.Date(), nullable=True),
        sa.Column("at", sa.String(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_lesson_changes_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson_changes")),
        sa.UniqueConstraint("student_id", "day", name=op.f("uq_lesson_changes_student_id_day")),
    )
    op.create_table(
        "holidays",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=True),
        sa.Column("first", sa.Date(), nullable=False),
        sa.Column("last", sa.Date(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_holidays_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_holidays")),
    )
    op.create_index(op.f("ix_holidays_student_id"), "holidays", ["student_id"])
    op.add_column("takes", sa.Column("listened_at", MOMENT, nullable=True))
    op.add_column("studio", sa.Column("feed_made_at", MOMENT, nullable=True))
    op.add_column("studio", sa.Column("feed_sha256", sa.String(), nullable=True))
    op.add_column("studio", sa.Column("lesson_minutes", sa.Integer(), nullable=False, server_default="45"))
    with op.batch_alter_table("studio") as batch:
        batch.alter_column("lesson_minutes", server_default=None)


def downgrade() -> None:
    """Take them away."""
    for table, column in (
        ("studio", "lesson_minutes"),
        ("studio", "feed_sha256"),
        ("studio", "feed_made_at"),
        ("takes", "listened_at"),
    ):
        op.drop_column(table, column)
    op.drop_table("holidays")
    op.drop_table("lesson_changes")
