"""What teacher and student say to each other is a thread of each take and each week, written or spoken."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)
MOVES = """
INSERT INTO said (id, student_id, who, said_at, take_id, text, unclear, read_at)
SELECT id, student_id, 'teacher', received_at, id, words, false, received_at FROM takes WHERE words <> ''
"""
MOVES_BACK = """
UPDATE takes SET words = coalesce((
    SELECT text FROM said WHERE said.take_id = takes.id AND who = 'teacher' AND text <> ''
    ORDER BY said_at DESC, id LIMIT 1
), '')
"""


def upgrade() -> None:
    """Make the table, and begin each thread with the words that were on its take."""
    op.create_table(
        "said",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("student_id", sa.String(), nullable=False),
        sa.Column("take_id", sa.String(), nullable=True),
        sa.Column("week_id", sa.String(), nullable=True),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("said_at", MOMENT, nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("unclear", sa.Boolean(), nullable=False),
        sa.Column("recording", sa.String(), nullable=True),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("read_at", MOMENT, nullable=True),
        *(
            sa.ForeignKeyConstraint(
                [f"{name}_id"], [f"{name}s.id"], name=op.f(f"fk_said_{name}_id"), ondelete="CASCADE"
            )
            for name in ("student", "take", "week")
        ),
        sa.CheckConstraint("who IN ('teacher', 'student')", name=op.f("ck_said_who")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_said")),
    )
    for column in ("student_id", "take_id", "week_id", "recording"):
        op.create_index(op.f(f"ix_said_{column}"), "said", [column])
    op.execute(MOVES)
    op.drop_column("takes", "words")


def downgrade() -> None:
    """Put the teacher's last words back on each take; what else was said goes."""
    op.add_column("takes", sa.Column("words", sa.String(), nullable=False, server_default=""))
    op.execute(MOVES_BACK)
    with op.batch_alter_table("takes") as batch:
        batch.alter_column("words", server_default=None)
    op.drop_table("said")
