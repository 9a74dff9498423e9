"""All rows of one database into another, of whichever kind each is."""

from __future__ import annotations

from sqlalchemy import insert, select

from evenhand.storage.database import Database
from evenhand.storage.migrating import upgrade
from evenhand.storage.tables import metadata

_AT_ONCE = 200  # rows inserted together


def copy_rows(source: Database, target: Database) -> None:
    """Copy the rows of one moment to a database that holds none: all of them, or none."""
    with source.of_one_moment() as reading, target.alone() as writing:
        upgrade(writing)
        for table in metadata.sorted_tables:  # parents first
            found = reading.execution_options(yield_per=_AT_ONCE).execute(select(table)).mappings()
            for some in found.partitions():
                writing.execute(insert(table), [dict(row) for row in some])
