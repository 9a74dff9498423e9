"""What takes a moment to make of a student's takes is kept."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; it fills as the workers look at each student."""
    op.create_table(
        "made",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_made_student_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_made")),
        sa.UniqueConstraint("student_id", "kind", name=op.f("uq_made_student_id_kind")),
    )


def downgrade() -> None:
    """Take it away; nothing is lost with it."""
    op.drop_table("made")
