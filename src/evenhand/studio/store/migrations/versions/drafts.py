"""A week's form is kept as it is typed; a student's takes are found in the order of recording."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the table of what was typed, and change the index."""
    op.create_table(
        "drafts",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("of_week", sa.String(), nullable=False),
        sa.Column("form", sa.String(), nullable=False),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.Column("page", sa.String(), nullable=False),
        sa.Column("stamp", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_drafts_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drafts")),
        sa.UniqueConstraint("student_id", "of_week", name=op.f("uq_drafts_student_id_of_week")),
    )
    op.create_index(op.f("ix_takes_student_id_recorded_at"), "takes", ["student_id", "recorded_at"])
    op.drop_index(op.f("ix_takes_student_id_received_at"), "takes")


def downgrade() -> None:
    """Put the index back, and drop what was typed."""
    op.create_index(op.f("ix_takes_student_id_received_at"), "takes", ["student_id", "received_at"])
    op.drop_index(op.f("ix_takes_student_id_recorded_at"), "takes")
    op.drop_table("drafts")
