"""Versions of what was heard of a take are kept beside the one that is shown."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make their table: of every take there is one version, the one that is shown.

    Where walls stand between studios, a take's key has its studio in it.
    """
    keys = sa.inspect(op.get_bind()).get_pk_constraint("takes")["constrained_columns"]
    own = ["studio_id"] if "studio_id" in keys else []
    op.create_table(
        "hearings",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("studio_id", sa.String(), nullable=False, server_default="first"),
        sa.Column("take_id", sa.String(), nullable=False),
        sa.Column("ear", sa.Integer(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("heard_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reason", sa.String(), nullable=True),
        sa.Column("corrected", sa.Boolean(), nullable=False),
        sa.Column("replaced_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("tried", sa.Integer(), nullable=False),
        sa.Column("progress", sa.Float(), nullable=False),
        sa.Column("heard", sa.LargeBinary(), nullable=True),
        sa.Column("claimed_by", sa.String(), nullable=True),
        sa.Column("claimed_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "status IN ('waiting', 'hearing', 'heard', 'failed')", name=op.f("ck_hearings_status")
        ),
        sa.ForeignKeyConstraint(
            [*own, "take_id"],
            [f"takes.{column}" for column in (*own, "id")],
            name=op.f("fk_hearings_take_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hearings")),
        sa.UniqueConstraint("take_id", "ear", name=op.f("uq_hearings_take_id_ear")),
    )
    op.create_index(op.f("ix_hearings_status_asked_at"), "hearings", ["status", "asked_at"])


def downgrade() -> None:
    """Drop it; what is shown stays, the other versions go."""
    op.drop_table("hearings")
