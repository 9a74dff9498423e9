"""Run the steps on the connection that was handed over; Alembic loads this file by itself."""

from __future__ import annotations

from alembic import context

from evenhand.studio.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,  # SQLite changes a table by copying it
    compare_type=True,
)
context.run_migrations()
