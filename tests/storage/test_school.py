"""A school: several teachers in one Postgres, each with a studio, a login name and a password."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, inspect, text

from evenhand.cli.main import run
from evenhand.cli.studio.serve import _open
from evenhand.errors import StudioMissing, WrongOptions
from evenhand.studio.safekeeping.backup import back_up, restore
from evenhand.studio.safekeeping.export import export_studio, import_studio
from evenhand.studio.school import School
from evenhand.studio.store.database import downgrade, upgrade
from evenhand.studio.store.layout import FIRST, Backing
from evenhand.studio.store.school import build_walls, walls_stand
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata
from evenhand.studio.values import Urgency
from tests.full_studio import WAV, everything, fill, recordings_of
from tests.places import Place, empty
from tests.postgres import Server
from tests.studios import PASSWORD, QUICK, a_new_take

OTHER = "a pocket full of brushes"
BEFORE = "0012"
HOUR = timedelta(hours=1)


@pytest.fixture
def backing(postgres: Server) -> Backing:
    """Give an empty Postgres."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    return Backing(url)


@pytest.fixture
def school(backing: Backing, tmp_path: Path) -> Iterator[School]:
    """Make a school with an administrator and two teachers."""
    school = School(tmp_path, backing, hasher=QUICK)
    school.bring_up_to_date(finish=True)
    school.add("office", "Larkfield School", PASSWORD, administrator=True)
    school.add("mara", "Mara Veldt", PASSWORD)
    school.add("iven", "Iven Okoro", OTHER)
    yield school
    school.close()


def studio(school: School, login: str) -> Studio:
    found = school.by_login(login)
    assert found is not None
    return school.studio(found.id)


def test_each_teacher_has_a_studio_of_their_own(school: School) -> None:
    mara, iven = studio(school, "mara"), studio(school, " IVEN ")
    ida = mara.students.add("Ida Quill")
    assert (mara.students.all(), iven.students.all()) == ([ida], [])
    assert iven.students.find(ida.id) is None
    assert mara.access.check_password(PASSWORD)
    assert not iven.access.check_password(PASSWORD)
    assert [each.name for each in school.teachers()] == ["Iven Okoro", "Larkfield School", "Mara Veldt"]
    assert mara.data.recordings.folder != iven.data.recordings.folder
    assert school.front.facts.name == "Larkfield School"


def test_a_secret_says_whose_studio_it_opens(school: School) -> None:
    mara, iven = studio(school, "mara"), studio(school, "iven")
    secrets = fill(mara), iven.lessons.make_feed(), mara.access.begin("teacher", lasts=HOUR)[0]
    opened = [school.of_secret(secret) for secret in (*secrets, "no such secret", "")]
    assert opened == [mara, iven, mara, None, None]


def test_workers_hear_every_studio_and_each_take_in_its_own(school: School) -> None:
    """A lesson's take comes first, whichever studio it is of; nobody's job ends in another studio's hands."""
    mara, iven = studio(school, "mara"), studio(school, "iven")
    assert school.hears_next() is None
    own = [_sent(mara, "student"), _sent(iven, "batch"), _sent(iven, "lesson")]
    assert studio(school, "office").queue.claim("w") is None
    for of, take_id in ((iven, own[2]), (mara, own[0]), (iven, own[1])):
        assert school.hears_next() is of
        claimed = of.queue.claim("w")
        assert claimed is not None
        assert claimed.id == take_id
    assert school.hears_next() is None
    school.give_back("w")
    assert [each.queue.counts()["waiting"] for each in (mara, iven)] == [1, 2]


def _sent(of: Studio, urgency: Urgency) -> str:
    """Let a take come in."""
    student = of.students.add("Ida Quill")
    return of.takes.receive(a_new_take(student.id, urgency=urgency), WAV)[0].id


@pytest.mark.parametrize("login", ["mara", "Mara ", "x", "", "a b", "ü1", "-ab", "a" * 41])
def test_a_login_name_is_one_of_its_kind_and_can_be_typed(school: School, login: str) -> None:
    with pytest.raises(WrongOptions, match="login name"):
        school.add(login, "Somebody", PASSWORD)
    assert len(school.teachers()) == len(school.ids()) == 3


@pytest.mark.usefixtures("school")
def test_one_studio_of_several_must_be_named(backing: Backing, tmp_path: Path) -> None:
    with pytest.raises(WrongOptions, match="a database of 3 studios, and none named"):
        Studio.open(tmp_path, backing=backing)
    with pytest.raises(WrongOptions, match="another one"):
        Studio.open(tmp_path, backing=Backing(backing.url, "nobody's"))
    empty(backing.url or "")
    with pytest.raises(StudioMissing):
        School.open(tmp_path, backing)


def test_a_school_is_made_on_the_command_line(
    backing: Backing, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """From a studio that was alone: it stays, with its students, and its teacher gets a name."""
    monkeypatch.setenv("EVENHAND_SERVE_DATABASE", backing.url or "")
    monkeypatch.setenv("EVENHAND_PASSWORD", OTHER)
    with Studio.create(tmp_path, name="Studio Larkfield", password=PASSWORD, backing=backing) as alone:
        alone.students.add("Ida Quill")
    folder = ["--data", str(tmp_path)]
    for words in (
        ["create", "office", "--name", "Larkfield School"],
        ["teacher", "mara", "--name", "Mara Veldt", "--first"],
        ["teacher", "iven", "--name", "Iven Okoro"],
        ["list"],
    ):
        assert run(["school", *words, *folder]) == 0
    said = capsys.readouterr().out
    assert "office is its administrator" in said
    assert f"mara: Mara Veldt, 1 student; --studio {FIRST}\n" in said
    assert "iven: Iven Okoro, 0 students; --studio " in said
    assert run(["school", "create", "second", "--name", "Another", *folder]) == 2
    assert run(["school", "teacher", "mara", "--name", "Another", *folder]) == 2
    assert run(["school", "teacher", "nobody", "--new-password", *folder]) == 2
    assert run(["school", "teacher", "mara", "--new-password", *folder]) == 0
    with closing(_open(tmp_path, backing)) as front:  # as evenhand serve does
        assert front.facts.name == "Larkfield School"
    school = School.open(tmp_path, backing)
    assert studio(school, "mara").access.check_password(OTHER)
    assert studio(school, "mara").id == FIRST
    school.close()


def _rows(connection: Connection, table: str, names: str) -> list[tuple[Any, ...]]:
    """Read a table as a version does that knows these columns alone."""
    return [tuple(row) for row in connection.execute(text(f"SELECT {names} FROM {table} ORDER BY id"))]  # noqa: S608


def test_an_older_evenhand_goes_on_until_the_walls_are_built(place: Place) -> None:
    """Its statements are as its tables make them: without the column, and not saying whose they are."""
    kept = place.create()
    fill(kept)
    database = kept.data.database
    with database.changing(copies_tables=True) as connection:
        downgrade(connection, BEFORE)
        there = inspect(connection)
        older = {
            table: ", ".join(column["name"] for column in there.get_columns(table))
            for table in metadata.tables
            if there.has_table(table)
        }
        before = {table: _rows(connection, table, names) for table, names in older.items()}
        upgrade(connection, walls=False)  # expand
        assert before == {table: _rows(connection, table, names) for table, names in older.items()}
        names = older["book"].replace("id, ", "", 1)
        connection.execute(text(f"INSERT INTO book (id, {names}) SELECT 'new', {names} FROM book LIMIT 1"))  # noqa: S608
        connection.execute(text("UPDATE students SET name = 'Ida Quill-Marsh' WHERE name = 'Ida Quill'"))
        assert connection.execute(text("DELETE FROM weeks")).rowcount == len(before["weeks"]) > 0
    if not place.is_sqlite:
        with database.changing() as connection:  # contract
            assert not walls_stand(connection)
            build_walls(connection)
            assert walls_stand(connection)
    after = everything(kept)
    assert {row["studio_id"] for rows in after.values() for row in rows} == {FIRST}
    assert "new" in {row["id"] for row in after["book"]}
    assert "Ida Quill-Marsh" in {row["name"] for row in after["students"]}
    assert len(after["takes"]) == len(before["takes"]) > 0


def test_a_backup_and_an_export_are_of_one_studio(school: School, tmp_path: Path) -> None:
    """And what is erased in one is erased there alone."""
    mara, iven = studio(school, "mara"), studio(school, "iven")
    fill(mara)
    una = iven.students.add("Una of another")
    back_up(mara, tmp_path / "kept.zip")
    export_studio(mara, tmp_path / "given.zip")
    restore(tmp_path / "kept.zip", tmp_path / "there")
    import_studio(tmp_path / "given.zip", tmp_path / "here", hasher=QUICK).close()
    for folder in ("there", "here"):
        with Studio.open(tmp_path / folder, hasher=QUICK) as alone:
            assert alone.students.all(archived=None) == mara.students.all(archived=None)
            assert recordings_of(alone) == recordings_of(mara)
            assert alone.students.find(una.id) is None
    for student in mara.students.all(archived=None):
        mara.students.erase(student.id)
    assert iven.students.all() == [una]
    assert everything(mara)["takes"] == []
