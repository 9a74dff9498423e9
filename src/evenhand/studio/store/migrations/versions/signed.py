"""A student's rudiments that the teacher signed off."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column: nothing is signed off."""
    op.add_column("students", sa.Column("signed_off", sa.String(), nullable=False, server_default=""))
    with op.batch_alter_table("students") as batch:
        batch.alter_column("signed_off", server_default=None)


def downgrade() -> None:
    """Take the column away."""
    op.drop_column("students", "signed_off")
