"""The steps from one form of the database to the next."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, cast

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import UniqueConstraint, inspect, text

from evenhand.errors import WrongOptions
from evenhand.studio.store.database import NEWEST, Database, downgrade, revision_of, settings, upgrade
from evenhand.studio.store.layout import DATABASE
from evenhand.studio.store.school import outside
from evenhand.studio.store.tables import metadata
from tests.full_studio import everything, fill
from tests.places import Place, ours


@pytest.fixture
def database(place: Place) -> Database:
    """Give the database of a studio."""
    return place.create().data.database


def expected(database: Database) -> set[str]:
    return {*metadata.tables, *(() if database.is_sqlite else outside.tables)}


def tables(database: Database) -> set[str]:
    with database.reading() as connection:
        return ours(set(inspect(connection).get_table_names())) - {"alembic_version"}


def test_the_steps_make_what_the_tables_say(database: Database) -> None:
    with database.reading() as connection:
        opts = {
            "compare_type": True,
            "include_name": lambda name, kind, _: kind != "table" or bool(ours({name})),
            "include_object": lambda *about: database.is_sqlite or not is_key(about),
        }
        context = MigrationContext.configure(connection, opts=opts)
        wanted = [metadata] if database.is_sqlite else [metadata, outside]
        assert compare_metadata(context, cast("Any", wanted)) == []


def is_key(about: tuple[object, ...]) -> bool:
    """Tell whether it is a key or a reference: in a Postgres each has whose studio it is of, too."""
    return about[2] in {"foreign_key_constraint", "unique_constraint"}


def test_every_key_and_reference_is_of_a_studio(database: Database) -> None:
    """A secret alone is one of its kind in all of the school."""
    if database.is_sqlite:
        pytest.skip("one file is one studio")
    with database.reading() as connection:
        found = inspect(connection)
        for table in metadata.sorted_tables:
            assert found.get_pk_constraint(table.name)["constrained_columns"] == ["studio_id", "id"]
            uniques = [each["column_names"] for each in found.get_unique_constraints(table.name)]
            references = {
                (*each["constrained_columns"], each["referred_table"], *each["referred_columns"])
                for each in found.get_foreign_keys(table.name)
            }
            assert [each for each in uniques if each[0] != "studio_id"] in ([], [["secret_sha256"]])
            assert {name for each in uniques for name in each} - {"studio_id"} == {
                column.name
                for key in table.constraints
                if isinstance(key, UniqueConstraint)
                for column in key.columns
            }
            assert references == {
                ("studio_id", each.parent.name, each.column.table.name, "studio_id", each.column.name)
                for each in table.foreign_keys
            }


def test_up_down_and_up_again(database: Database) -> None:
    with database.changing(copies_tables=True) as connection:
        downgrade(connection)
    assert tables(database) == set()
    with database.changing(copies_tables=True) as connection:
        upgrade(connection)
    assert tables(database) == expected(database)
    with database.reading() as connection:
        assert revision_of(connection) == NEWEST


def test_a_step_that_breaks_off_leaves_the_form_as_it_was(database: Database) -> None:
    def broken() -> None:
        with database.changing(copies_tables=True) as connection:
            downgrade(connection)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        broken()
    assert tables(database) == expected(database)


def test_the_newest_form_is_the_last_step() -> None:
    assert ScriptDirectory.from_config(settings()).get_current_head() == NEWEST


def test_a_studio_of_a_newer_evenhand_is_refused_and_left_alone(place: Place) -> None:
    studio = place.create()
    with studio.data.database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(WrongOptions, match=r"newer Evenhand \(form 9999\).*update Evenhand"):
        place.open()


def test_sqlite_is_set_so_that_nothing_is_lost_and_nothing_lingers(place: Place) -> None:
    """The settings are SQLite's documented ones: WAL, FULL (2), foreign keys, secure delete."""
    if not place.is_sqlite:
        pytest.skip("SQLite's own settings")
    with place.create().data.database.reading() as connection:
        found = {
            name: connection.execute(text(f"PRAGMA {name}")).scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "secure_delete")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "secure_delete": 1}
    assert (place.data / DATABASE).is_file()


def test_a_parents_link_goes_with_the_form_that_knows_it(place: Place) -> None:
    """Under a form before it, it would open the stand."""
    studio = place.create()
    student = studio.students.add("Nora Veldt")
    own, _ = studio.access.make_link(student.id, lasts=timedelta(days=9))
    parents, _ = studio.access.make_link(student.id, lasts=timedelta(days=9), opens="days")
    for act in (lambda connection: downgrade(connection, "0006"), upgrade):
        with studio.data.database.changing(copies_tables=True) as connection:
            act(connection)
    assert studio.access.student_of_link(own) == student
    assert studio.access.student_of_link(parents, "days") is None


def test_a_students_stage_gets_the_name_it_has_now(place: Place) -> None:
    """A form before the last one named stages that are called otherwise now; back again, too."""
    studio = place.create()
    student = studio.students.add("Nora Veldt", stage="speed in bursts")
    database = studio.data.database
    for act, name in ((lambda to: downgrade(to, "0003"), "building speed"), (upgrade, "speed in bursts")):
        with database.changing(copies_tables=True) as connection:
            act(connection)
        with database.reading() as connection:
            found = connection.execute(text("SELECT stage FROM students WHERE id = :id"), {"id": student.id})
            assert found.scalar() == name


def test_lessons_and_holidays_go_with_the_form_that_knows_them_and_all_else_stays(place: Place) -> None:
    """Under the form before it there are none, and no take is heard by the teacher."""
    studio = place.create()
    fill(studio)
    before = everything(studio)
    for act in (lambda connection: downgrade(connection, "0007"), upgrade):
        with studio.data.database.changing(copies_tables=True) as connection:
            act(connection)
    after = everything(studio)
    assert (after["lesson_changes"], after["holidays"]) == ([], [])
    assert all(take["listened_at"] is None for take in after["takes"])
    assert [take["heard"] for take in after["takes"]] == [take["heard"] for take in before["takes"]]
    assert (after["students"], after["weeks"]) == (before["students"], before["weeks"])
    (row,) = after["studio"]
    assert (row["lesson_minutes"], row["feed_sha256"], row["name"]) == (45, None, before["studio"][0]["name"])


def test_steps_that_copy_a_table_lose_nothing_that_leans_on_it(place: Place) -> None:
    """SQLite deletes with a table what refers to it, where it looks at references meanwhile."""
    studio = place.create()
    fill(studio)
    before = everything(studio)
    for act in (lambda connection: downgrade(connection, "0004"), upgrade):
        with studio.data.database.changing(copies_tables=True) as connection:
            act(connection)
    after = everything(studio)
    for table in ("weeks", "takes", "devices", "drafts"):
        assert len(after[table]) == len(before[table]) > 0, table
    assert studio.data.database.faults() == ""
