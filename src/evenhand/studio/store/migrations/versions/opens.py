"""A link says what it opens: the student's stand, or to a parent days and minutes alone."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column: every link there is opens the stand."""
    op.add_column("links", sa.Column("opens", sa.String(), nullable=False, server_default="stand"))
    with op.batch_alter_table("links") as batch:
        batch.alter_column("opens", server_default=None)


def downgrade() -> None:
    """Take the column away, and the links that must not open the stand."""
    op.execute("DELETE FROM links WHERE opens <> 'stand'")
    op.drop_column("links", "opens")
