"""Every row says whose studio it is of; in a Postgres there can be several, which the school lists.

What was there is the first studio's, by the column's default: no row is written anew. An older Evenhand
goes on with these tables, and what it adds is the first studio's, too. The walls between studios come
apart from this step (``school.build_walls``), when no older one runs any more.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

TABLES = (
    *("studio", "students", "links", "sessions", "known_devices", "acts", "weeks", "drafts", "takes", "said"),
    *("devices", "lesson_changes", "holidays", "book", "book_changes", "made"),
)
FIRST = "first"


def upgrade() -> None:
    """Add the column; in a Postgres, the school's own tables, with the studio that is there."""
    for table in TABLES:
        op.add_column(table, sa.Column("studio_id", sa.String(), nullable=False, server_default=FIRST))
    if op.get_bind().dialect.name == "sqlite":
        return
    _make_school()
    there = "INSERT INTO teachers (id, login, name, administrator) SELECT '{}', NULL, '', false FROM studio"
    op.execute(there.format(FIRST))


def _make_school() -> None:
    op.create_table(
        "teachers",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("login", sa.String(), nullable=True),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("administrator", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_teachers")),
        sa.UniqueConstraint("login", name=op.f("uq_teachers_login")),
    )


def downgrade() -> None:
    """Take it away; the walls are down by now."""
    if op.get_bind().dialect.name != "sqlite":
        op.drop_table("teachers")
    for table in reversed(TABLES):
        op.drop_column(table, "studio_id")
