"""In a school a teacher can stand in for another one for some days."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; a SQLite holds one teacher."""
    if op.get_bind().dialect.name == "sqlite":
        return
    op.create_table(
        "substitutes",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("for_id", sa.String(), nullable=False),
        sa.Column("by_id", sa.String(), nullable=False),
        sa.Column("first", sa.Date(), nullable=False),
        sa.Column("last", sa.Date(), nullable=False),
        *(
            sa.ForeignKeyConstraint(
                [name], ["teachers.id"], name=op.f(f"fk_substitutes_{name}"), ondelete="CASCADE"
            )
            for name in ("for_id", "by_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_substitutes")),
    )


def downgrade() -> None:
    """Take it away: nobody stands in for anybody."""
    if op.get_bind().dialect.name != "sqlite":
        op.drop_table("substitutes")
