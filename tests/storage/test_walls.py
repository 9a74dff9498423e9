# ruff: noqa: S608 - the statements are raw so that a role can try them, and made of our own tables' names
"""Nothing leads from one studio of a school to another: a role tries, past all of Evenhand's own code.

The role is the application's own. It is no superuser and may not pass row-level security, else these tests
would prove nothing; the first of them says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import Column, Connection, Engine, Executable, create_engine, insert, select, text
from sqlalchemy.exc import DBAPIError

from evenhand.errors import WrongOptions
from evenhand.studio.store.database import downgrade
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.school import BY_SECRET, SETTING, build_walls, open_walls
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata
from tests.full_studio import everything, fill
from tests.places import empty
from tests.postgres import USER, Server
from tests.studios import PASSWORD, QUICK

TABLES = sorted(metadata.tables)
REFUSED = "row-level security|not-null|foreign key"


@dataclass
class School:
    """Two studios with something of everything, and a plain connection to their database."""

    engine: Engine
    address: str
    mine: Studio
    others: Studio

    def as_studio(self, connection: Connection, studio_id: str | None) -> None:
        """Say whose the transaction is, as raw SQL; None: say nothing, in a connection that never did."""
        if studio_id is not None:
            connection.execute(text(f"SELECT set_config('{SETTING}', :id, true)"), {"id": studio_id})

    @contextmanager
    def raw(self, studio_id: str) -> Iterator[psycopg.Cursor]:
        """Lend the driver's own cursor, as a studio's."""
        with psycopg.connect(self.address) as connection, connection.cursor() as cursor:
            cursor.execute("SELECT set_config(%s, %s, true)", (SETTING, studio_id))
            yield cursor

    def refused(self, studio_id: str | None, statement: str, **values: Any) -> None:
        """Expect that a studio's statement is refused."""
        with pytest.raises(DBAPIError, match=REFUSED):
            self.rows(studio_id, text(statement).bindparams(**values))

    def rows(self, studio_id: str | None, statement: str | Executable) -> int:
        """Count the rows that a studio's statement returns or changes."""
        with self.engine.begin() as connection:
            self.as_studio(connection, studio_id)
            asked = text(statement) if isinstance(statement, str) else statement
            return connection.execute(asked).rowcount


@pytest.fixture(scope="module")
def school(postgres: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[School]:
    """Make a school of two."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    made = []
    for studio_id in ("mine", "others"):
        studio = Studio.create(
            tmp_path_factory.mktemp(studio_id) / "studio",
            name=studio_id,
            password=PASSWORD,
            hasher=QUICK,
            backing=Backing(url, studio_id),
        )
        fill(studio)
        made.append(studio)
    engine = create_engine(url)
    yield School(engine, url.replace("+psycopg", ""), *made)
    engine.dispose()
    for studio in made:
        studio.close()


def test_the_role_that_tries_cannot_pass_the_walls_by_right(school: School) -> None:
    with school.engine.begin() as connection:
        query = "SELECT rolsuper, rolbypassrls FROM pg_roles WHERE rolname = current_user"
        assert connection.execute(text(query)).one() == (False, False)


def test_an_account_that_passes_walls_serves_no_school(
    school: School, postgres: Server, tmp_path: Path
) -> None:
    """The server's own superuser sees every row whatever the policies say."""
    address = postgres.url.set(username=USER).render_as_string(hide_password=False)
    with pytest.raises(WrongOptions, match="passes the walls"):
        Studio.open(tmp_path, backing=Backing(address, studio_id="mine"))
    with pytest.raises(WrongOptions, match="passes the walls"):
        Studio.create(
            tmp_path / "third", name="third", password=PASSWORD, backing=Backing(address, studio_id="third")
        )
    with school.engine.begin() as connection:
        assert connection.execute(text("SELECT count(*) FROM teachers")).scalar() == 2


@pytest.mark.parametrize("table", TABLES)
def test_every_table_has_its_wall(school: School, table: str) -> None:
    """A new table is in ``metadata``, and has none until its step makes the column."""
    with school.engine.begin() as connection:
        walls = "SELECT relrowsecurity, relforcerowsecurity FROM pg_class WHERE oid = to_regclass(:table)"
        assert connection.execute(text(walls), {"table": table}).one() == (True, True)
        policies = "SELECT policyname, cmd, qual, with_check FROM pg_policies WHERE tablename = :table"
        found = {name: rule for name, *rule in connection.execute(text(policies), {"table": table})}
        command, seen, written = found.pop("own")
        assert (command, seen) == ("ALL", written)
        assert SETTING in seen
        hashes = [column.name for column in metadata.tables[table].columns if column.name.endswith("_sha256")]
        assert list(found) == ["by_secret"] * len(hashes)
        assert all((command, written) == ("SELECT", None) for command, _, written in found.values())


def test_who_has_a_secret_sees_its_own_row_and_changes_none(school: School) -> None:
    """That is how a cookie or a link says whose it is."""
    with school.engine.begin() as connection:
        school.as_studio(connection, "others")
        hashed = connection.scalar(text("SELECT secret_sha256 FROM links LIMIT 1"))
    for studio_id in ("mine", None):
        with school.engine.begin() as connection:
            school.as_studio(connection, studio_id)
            connection.execute(text(f"SELECT set_config('{BY_SECRET}', :hashed, true)"), {"hashed": hashed})
            found = connection.execute(text("SELECT studio_id, secret_sha256 FROM links")).all()
            assert [row for row in found if row.studio_id != studio_id] == [("others", hashed)]
            theirs = "WHERE studio_id = 'others'"
            assert connection.execute(text(f"UPDATE links SET opens = 'stand' {theirs}")).rowcount == 0
            assert connection.execute(text(f"DELETE FROM links {theirs}")).rowcount == 0


@pytest.mark.parametrize("table", TABLES)
def test_each_studio_has_rows_in_every_table_and_sees_no_others(school: School, table: str) -> None:
    with school.engine.begin() as connection:
        school.as_studio(connection, "mine")
        found = set(connection.scalars(text(f"SELECT studio_id FROM {table}")))
        assert found == {"mine"}


@pytest.mark.parametrize("nobody", [None, "", "nobody's"])
@pytest.mark.parametrize("table", TABLES)
def test_who_says_no_studio_sees_and_changes_nothing(school: School, table: str, nobody: str | None) -> None:
    assert school.rows(nobody, f"SELECT 1 FROM {table}") == 0
    assert school.rows(nobody, f"UPDATE {table} SET id = id") == 0
    assert school.rows(nobody, f"DELETE FROM {table}") == 0


@pytest.mark.parametrize("table", TABLES)
def test_anothers_rows_are_not_changed_deleted_copied_or_locked(school: School, table: str) -> None:
    theirs = "WHERE studio_id = 'others'"
    assert school.rows("mine", f"UPDATE {table} SET id = id {theirs}") == 0
    assert school.rows("mine", f"DELETE FROM {table} {theirs}") == 0
    assert school.rows("mine", f"SELECT 1 FROM {table} {theirs} FOR UPDATE") == 0
    whole = f"COPY (SELECT studio_id FROM {table}) TO STDOUT"
    with school.raw("mine") as cursor, cursor.copy(whole) as copy:
        assert {bytes(line).strip() for line in copy} == {b"mine"}


@pytest.mark.parametrize("table", TABLES)
def test_a_row_is_neither_written_for_another_nor_given_away(school: School, table: str) -> None:
    school.refused("mine", f"UPDATE {table} SET studio_id = 'others'")
    columns = ", ".join(
        column.name for column in metadata.tables[table].columns if column.name != "studio_id"
    )
    insert_ = f"INSERT INTO {table} (studio_id, {columns}) SELECT 'others', {columns} FROM {table}"
    school.refused("mine", insert_)
    with pytest.raises(psycopg.Error, match="COPY FROM not supported"), school.raw("mine") as cursor:
        cursor.execute(f"COPY {table} FROM STDIN")


@pytest.mark.parametrize("nobody", [None, ""])
@pytest.mark.parametrize("table", TABLES)
def test_who_says_no_studio_writes_no_row(school: School, table: str, nobody: str | None) -> None:
    """With a row as the table wants it, read from a studio that has one."""
    kept = metadata.tables[table]
    with school.engine.begin() as connection:
        school.as_studio(connection, "mine")
        row = dict(connection.execute(select(kept)).mappings().first() or {})
    for studio_id in ("mine", "", None):
        new = {**row, "studio_id": studio_id, **({"id": "new"} if kept.c.id.type.python_type is str else {})}
        with pytest.raises(DBAPIError, match=REFUSED):
            school.rows(nobody, insert(kept).values(**new))


def references() -> list[Column[Any]]:
    return [key.parent for table in metadata.sorted_tables for key in table.foreign_keys]


@pytest.mark.parametrize("column", references(), ids=str)
def test_no_reference_leads_to_anothers_row(school: School, column: Column[Any]) -> None:
    (key,) = column.foreign_keys
    parent, table = key.column.table.name, column.table.name
    with school.engine.begin() as connection:
        school.as_studio(connection, "others")
        theirs = connection.scalar(text(f"SELECT id FROM {parent}"))
    assert theirs is not None
    one = f"WHERE id = (SELECT min(id) FROM {table})"
    school.refused("mine", f"UPDATE {table} SET {column.name} = :theirs {one}", theirs=theirs)


def test_several_studios_have_no_older_form(school: School) -> None:
    before = everything(school.mine), everything(school.others)
    database = school.mine.data.database
    with pytest.raises(WrongOptions, match="a database of 2 studios"), database.changing() as connection:
        downgrade(connection, "0012")
    assert (everything(school.mine), everything(school.others)) == before


def test_a_step_sees_the_rows_of_all_studios_and_the_walls_stand_again(school: School) -> None:
    """Else a step that changes rows would change none of them, and nobody would know."""
    database = school.mine.data.database
    with database.changing() as connection:
        open_walls(connection)
        assert set(connection.scalars(text("SELECT studio_id FROM students"))) == {"mine", "others"}
        build_walls(connection)
        assert set(connection.scalars(text("SELECT studio_id FROM students"))) == {"mine"}
    assert school.rows(None, "SELECT 1 FROM students") == 0
