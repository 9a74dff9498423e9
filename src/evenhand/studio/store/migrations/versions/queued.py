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

FAILED = "UPDATE takes SET set_aside_at = received_at WHERE status = 'failed'"
QUEUED = (  # the trigger makes a job of each
    "UPDATE takes SET status = 'waiting', progress = 0, claimed_by = NULL, claimed_at = NULL "
    "WHERE status IN ('waiting', 'hearing')"
)
NO_FORCE, FORCE = (  # whose table it is sees all studios' rows for a moment
    f"ALTER TABLE takes {which} ROW LEVEL SECURITY" for which in ("NO FORCE", "FORCE")
)


def upgrade() -> None:
    """Add the columns: a student waits for each take there is; nobody noted when hearing one was given up."""
    op.execute(URGENT)  # with its check, which SQLite would take only with the whole table made anew
    op.add_column("takes", sa.Column("set_aside_at", MOMENT, nullable=True))
    op.add_column("takes", sa.Column("waits_until", MOMENT, nullable=True))
    op.drop_index("ix_takes_status_received_at", "takes")
    op.create_index("ix_takes_status_urgency_received_at", "takes", ["status", "urgency", "received_at"])
    if op.get_bind().dialect.name == "sqlite":
        op.execute(FAILED)
        return
    install(op.get_bind())
    walls = op.get_bind().scalar(
        sa.text("SELECT relforcerowsecurity FROM pg_class WHERE oid = 'takes'::regclass")
    )
    for statement in (NO_FORCE, FAILED, QUEUED, FORCE) if walls else (FAILED, QUEUED):
        op.execute(statement)


def downgrade() -> None:
    """Take them away."""
    if op.get_bind().dialect.name == "postgresql":
        uninstall(op.get_bind())
    op.drop_index("ix_takes_status_urgency_received_at", "takes")
    op.create_index("ix_takes_status_received_at", "takes", ["status", "received_at"])
    for column in ("waits_until", "set_aside_at", "urgency"):
        op.drop_column("takes", column)
