"""A studio says whether videos are kept once they were heard and watched."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column: no video is kept."""
    op.add_column("studio", sa.Column("keep_videos", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("studio") as batch:
        batch.alter_column("keep_videos", server_default=None)


def downgrade() -> None:
    """Take the column away."""
    op.drop_column("studio", "keep_videos")
