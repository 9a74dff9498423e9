"""Sessions that can be told apart, devices that came in before, and a log of who did what."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)
NEW = (("began_at", MOMENT), ("seen_at", MOMENT), ("browser", sa.String()))


def upgrade() -> None:
    """Add the columns and the two tables."""
    for name, kind in NEW:
        op.add_column("sessions", sa.Column(name, kind, nullable=True))
    op.create_table(
        "known_devices",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("secret_sha256", sa.String(), nullable=False),
        sa.Column("used_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_known_devices")),
        sa.UniqueConstraint("secret_sha256", name=op.f("uq_known_devices_secret_sha256")),
    )
    op.create_table(
        "acts",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("address", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_acts")),
    )
    op.create_index(op.f("ix_acts_at"), "acts", ["at"])


def downgrade() -> None:
    """Take them away."""
    op.drop_table("acts")
    op.drop_table("known_devices")
    for name, _kind in reversed(NEW):
        op.drop_column("sessions", name)
