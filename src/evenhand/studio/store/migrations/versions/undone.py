"""The last changes of the book, so that they can be undone."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their table: nothing can be undone yet."""
    op.create_table(
        "book_changes",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("many", sa.Integer(), nullable=False),
        sa.Column("before", sa.String(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_book_changes")),
    )


def downgrade() -> None:
    """Drop it; the book stays as it is."""
    op.drop_table("book_changes")
