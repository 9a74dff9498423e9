"""In a Postgres, processes share counts of tries and of bytes, and the database says when a take changed."""

from __future__ import annotations

from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

_UP = (
    """
    CREATE UNLOGGED TABLE tries (
        what varchar NOT NULL, who varchar NOT NULL, came double precision[] NOT NULL,
        until double precision NOT NULL, CONSTRAINT pk_tries PRIMARY KEY (what, who))
    """,
    "CREATE INDEX ix_tries_until ON tries (until)",
    "CREATE UNLOGGED TABLE used (studio varchar CONSTRAINT pk_used PRIMARY KEY, bytes bigint NOT NULL)",
    """
    CREATE FUNCTION evenhand_take_changed() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF TG_OP = 'INSERT' OR (OLD.status, OLD.progress) IS DISTINCT FROM (NEW.status, NEW.progress) THEN
            PERFORM pg_notify('evenhand_takes',
                concat_ws(' ', NEW.id, NULLIF(current_setting('evenhand.studio', true), '')));
        END IF;
        RETURN NULL;
    END $$
    """,
    """
    CREATE TRIGGER take_changed AFTER INSERT OR UPDATE OF status, progress ON takes
    FOR EACH ROW EXECUTE FUNCTION evenhand_take_changed()
    """,
)
_DOWN = (
    "DROP TRIGGER take_changed ON takes",
    "DROP FUNCTION evenhand_take_changed()",
    "DROP TABLE tries",
    "DROP TABLE used",
)


def upgrade() -> None:
    """Make the tables and the trigger; SQLite has one process, which counts and tells by itself."""
    _run(_UP)


def downgrade() -> None:
    """Take them away; counts begin anew."""
    _run(_DOWN)


def _run(steps: tuple[str, ...]) -> None:
    if op.get_bind().dialect.name != "sqlite":
        for step in steps:
            op.execute(step)
