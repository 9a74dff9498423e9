"""A studio has a path of its own, the book's exercises their marks; stages have their names of today."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

NEW = (("studio", "path"), ("book", "mark"))
RENAMED = {"building speed": "speed in bursts", "rebound doubles": "the crossing"}


def upgrade() -> None:
    """Add the columns, and rename the stages that students are in."""
    for table, column in NEW:
        op.add_column(table, sa.Column(column, sa.String(), nullable=False, server_default=""))
        with op.batch_alter_table(table) as batch:
            batch.alter_column(column, server_default=None)
    _rename(RENAMED)


def downgrade() -> None:
    """Take the columns away, and give the stages their earlier names."""
    _rename({after: before for before, after in RENAMED.items()})
    for table, column in reversed(NEW):
        op.drop_column(table, column)


def _rename(names: dict[str, str]) -> None:
    students = sa.table("students", sa.column("stage", sa.String()))
    for before, after in names.items():
        op.execute(students.update().where(students.c.stage == before).values(stage=after))
