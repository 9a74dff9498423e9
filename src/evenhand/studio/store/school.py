"""A school: several studios in one Postgres, and the walls between them, which the database itself holds.

Conventions: every row of a studio has its ``studio_id``; each transaction says first whose it is
(``SETTING``), and a policy on each table lets it see and write rows of that studio alone. References
between tables are of a studio, too, so none leads from one to another. What is of the school and of no
studio stands in tables of its own, which hold no student and nothing that was recorded.

In SQLite one file is one studio: the column stands there, always the same, and nobody looks at it.

The steps in ``migrations`` add the column while an older Evenhand goes on; ``build_walls`` comes last,
when none does. Both read from the database which tables there are, so a table that a later step
makes gets its wall as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import (
    ARRAY,
    BigInteger,
    Boolean,
    Column,
    Connection,
    Date,
    Double,
    ForeignKey,
    Inspector,
    MetaData,
    Table,
    inspect,
    select,
)
from sqlalchemy import text as sql

from evenhand.errors import WrongOptions
from evenhand.studio.store.layout import FIRST
from evenhand.studio.store.rows.kinds import Text
from evenhand.studio.store.tables import metadata

SETTING = "evenhand.studio"  # whose a transaction is
STUDIO_ID = "studio_id"
_THIS = f"nullif(current_setting('{SETTING}', true), '')"  # none said: NULL, which no row has
BY_SECRET = "evenhand.secret"  # noqa: S105 - a setting's name; in it is the hash of a secret that was brought
_KNOWN = f"nullif(current_setting('{BY_SECRET}', true), '')"
_HASH = "_sha256"  # how a column with a secret's hash ends
_SECRET = f"secret{_HASH}"  # one of its kind in all of the school

outside = MetaData(naming_convention=metadata.naming_convention)

teachers = Table(  # one a studio; an administrator has a studio, too, which stays empty
    "teachers",
    outside,
    Column("id", Text, primary_key=True),  # the studio's
    Column("login", Text, unique=True),  # None: the only one, who needs no name to come in
    Column("name", Text, nullable=False),
    Column("administrator", Boolean, nullable=False),
)


tries = Table(  # how often somebody tried something: work/shared.py
    "tries",
    outside,
    Column("what", Text, primary_key=True),
    Column("who", Text, primary_key=True),
    Column("came", ARRAY(Double), nullable=False),
    Column("until", Double, nullable=False, index=True),
    prefixes=["UNLOGGED"],
)

substitutes = Table(  # who teaches in whose place, from and to which day
    "substitutes",
    outside,
    Column("id", Text, primary_key=True),
    Column("for_id", Text, ForeignKey("teachers.id", ondelete="CASCADE"), nullable=False),
    Column("by_id", Text, ForeignKey("teachers.id", ondelete="CASCADE"), nullable=False),
    Column("first", Date, nullable=False),
    Column("last", Date, nullable=False),
)


used = Table(  # the bytes of a studio's recordings, as far as they were counted: StudioData.check_room
    "used",
    outside,
    Column("studio", Text, primary_key=True),
    Column("bytes", BigInteger, nullable=False),
    prefixes=["UNLOGGED"],
)


def studio_ids(connection: Connection) -> list[str]:
    """List the studios of a database, the first of a SQLite alone among them; none: it holds none."""
    there = inspect(connection)
    if there.has_table(teachers.name):
        return list(connection.scalars(select(teachers.c.id).order_by(teachers.c.id)))
    holds = there.has_table("studio") and connection.scalar(sql("SELECT id FROM studio")) is not None
    return [FIRST] if holds else []


def enter(connection: Connection, studio_id: str) -> None:
    """Let a transaction be of one studio: it sees and writes that one's rows alone."""
    connection.exec_driver_sql("SELECT set_config(%s, %s, true)", (SETTING, studio_id))


def studio_of_secret(connection: Connection, hashed: str) -> str | None:
    """Say which studio a session, a link or a calendar's address is of, by its secret's hash."""
    connection.exec_driver_sql("SELECT set_config(%s, %s, true)", (BY_SECRET, hashed))
    where = [(table, f"secret{_HASH}") for table in ("sessions", "links")] + [("studio", f"feed{_HASH}")]
    asked = " UNION ALL ".join(f"SELECT {STUDIO_ID} FROM {table} WHERE {of} = :hashed" for table, of in where)  # noqa: S608 - our own names
    found: str | None = connection.scalar(sql(asked), {"hashed": hashed})
    return found


def hold_walls(connection: Connection) -> None:
    """Refuse an account that the database lets pass walls between studios: they would be none.

    Raises
    ------
    WrongOptions
        It is a superuser's, or has BYPASSRLS.
    """
    passes = "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user"
    if connection.scalar(sql(passes)):
        got = "an account that passes the walls between studios (a superuser's, or with BYPASSRLS)"
        raise WrongOptions(got=got, must_be="a plain one that owns the database (docs/school.md)")


def walled_tables(connection: Connection) -> list[str]:
    """List the tables whose rows are of a studio each."""
    query = (
        "SELECT table_name FROM information_schema.columns "
        "WHERE column_name = 'studio_id' AND table_schema = current_schema() ORDER BY table_name"
    )
    return list(connection.scalars(sql(query)))


def walls_stand(connection: Connection) -> bool:
    """Tell whether each studio's rows are its own alone, in every table."""
    query = (
        "SELECT count(*) FROM pg_class "
        "WHERE relnamespace = current_schema()::regnamespace AND relforcerowsecurity"
    )
    walled = walled_tables(connection)
    return bool(walled) and int(connection.scalar(sql(query)) or 0) == len(walled)


def build_walls(connection: Connection) -> None:
    """Let each studio's rows be its own alone, in every table; what stands already stays.

    A row with a secret's hash is seen by who has the secret, too: that says which studio's it is.
    """
    if walls_stand(connection):
        return
    tables = walled_tables(connection)
    _rewrite_keys(connection, tables, first=(STUDIO_ID,))
    found = inspect(connection)
    for table in tables:
        secrets = [each["name"] for each in found.get_columns(table) if each["name"].endswith(_HASH)]
        for statement in (
            f"ALTER TABLE {table} ALTER COLUMN {STUDIO_ID} SET DEFAULT {_THIS}",
            f"DROP POLICY IF EXISTS own ON {table}",
            f"CREATE POLICY own ON {table} USING ({STUDIO_ID} = {_THIS}) WITH CHECK ({STUDIO_ID} = {_THIS})",
            f"DROP POLICY IF EXISTS by_secret ON {table}",
            *(f"CREATE POLICY by_secret ON {table} FOR SELECT USING ({each} = {_KNOWN})" for each in secrets),
            f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY",
            f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY",
        ):
            connection.exec_driver_sql(statement)


def open_walls(connection: Connection) -> None:
    """Let a transaction that changes the form see all rows; it builds the walls again before it ends."""
    for table in walled_tables(connection):
        connection.exec_driver_sql(f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY")


def take_walls_down(connection: Connection) -> None:
    """Go back to tables without walls, as an older Evenhand needs them.

    Raises
    ------
    WrongOptions
        There are several studios: no older form holds those.
    """
    several = len(studio_ids(connection))
    if several > 1:
        got = f"an older form for a database of {several} studios"
        raise WrongOptions(got=got, must_be="a database of one: export the others first")
    tables = walled_tables(connection)
    for table in tables:
        for statement in (
            f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY",
            f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY",
            f"DROP POLICY IF EXISTS own ON {table}",
            f"DROP POLICY IF EXISTS by_secret ON {table}",
            f"ALTER TABLE {table} ALTER COLUMN {STUDIO_ID} SET DEFAULT '{FIRST}'",
        ):
            connection.exec_driver_sql(statement)
    _rewrite_keys(connection, tables, first=())


def _rewrite_keys(connection: Connection, tables: Sequence[str], *, first: tuple[str, ...]) -> None:
    """Make keys, and references between the tables, anew with these columns first, or without them."""
    found = inspect(connection)
    references = [
        (table, key)
        for table in tables
        for key in found.get_foreign_keys(table)
        if key["referred_table"] in tables and _are_other(key["constrained_columns"], first)
    ]
    for table, key in references:
        connection.exec_driver_sql(f"ALTER TABLE {table} DROP CONSTRAINT {key['name']}")
    for table in tables:
        for name, kind, columns in _keys(found, table):
            if not _are_other(columns, first):
                continue
            changed = f"ADD CONSTRAINT {name} {kind} ({_listed(columns, first)})"
            connection.exec_driver_sql(f"ALTER TABLE {table} DROP CONSTRAINT {name}, {changed}")
    for table, key in references:
        here, there = (_listed(key[each], first) for each in ("constrained_columns", "referred_columns"))
        gone = key["options"].get("ondelete")
        connection.exec_driver_sql(
            f"ALTER TABLE {table} ADD CONSTRAINT {key['name']} FOREIGN KEY ({here}) "
            f"REFERENCES {key['referred_table']} ({there})" + (f" ON DELETE {gone}" if gone else "")
        )


def _keys(found: Inspector, table: str) -> Iterable[tuple[str | None, str, Sequence[str]]]:
    """List a table's keys: their names, kinds and columns."""
    primary = found.get_pk_constraint(table)
    yield primary["name"], "PRIMARY KEY", primary["constrained_columns"]
    for unique in found.get_unique_constraints(table):
        if unique["column_names"] != [_SECRET]:
            yield unique["name"], "UNIQUE", unique["column_names"]


def _are_other(columns: Sequence[str], first: tuple[str, ...]) -> bool:
    """Tell whether a key begins otherwise than it is to."""
    return (STUDIO_ID in columns) != (STUDIO_ID in first)


def _listed(columns: Sequence[str], first: tuple[str, ...]) -> str:
    return ", ".join((*first, *(name for name in columns if name != STUDIO_ID)))
