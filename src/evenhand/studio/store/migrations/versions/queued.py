"""How urgent a take is, when hearing it was given up, and, in a Postgres, procrastinate's tables of jobs."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from evenhand.studio.store.rows.jobs import install, uninstall

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)
URGENT = (
    "ALTER TABLE takes ADD COLUMN urgency VARCHAR NOT NULL DEFAULT 'student' "
    "CONSTRAINT ck_takes_urgency CHECK (urgency IN ('lesson', 'student', 'batch'))"
)


def upgrade() -> None:
    """Add the columns: a student waits for each take there is; nobody noted when hearing one was given up."""
    op.execute(URGENT)  # with its check, which SQLite would take only with the whole table made anew
    op.add_column("takes", sa.Column("set_aside_at", MOMENT, nullable=True))
    op.add_column("takes", sa.Column("waits_until", MOMENT, nullable=True))
    op.execute("UPDATE takes SET set_aside_at = received_at WHERE status = 'failed'")
    if op.get_bind().dialect.name == "postgresql":
        install(op.get_bind())


def downgrade() -> None:
    """Take them away."""
    if op.get_bind().dialect.name == "postgresql":
        uninstall(op.get_bind())
    for column in ("waits_until", "set_aside_at", "urgency"):
        op.drop_column("takes", column)
