"""A second factor for the teacher; the log of who did what says on what."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

NEW = (
    ("studio", "second_sealed", sa.String(), ""),
    ("studio", "second_used_step", sa.Integer(), "0"),
    ("studio", "second_recovery", sa.String(), ""),
    ("acts", "thing", sa.String(), ""),
)


def upgrade() -> None:
    """Add the columns: no second factor, and nothing said of what was done before."""
    for table, name, kind, nothing in NEW:
        op.add_column(table, sa.Column(name, kind, nullable=False, server_default=nothing))
        with op.batch_alter_table(table) as batch:
            batch.alter_column(name, server_default=None)


def downgrade() -> None:
    """Take them away: the password alone opens then."""
    for table, name, *_ in reversed(NEW):
        op.drop_column(table, name)
