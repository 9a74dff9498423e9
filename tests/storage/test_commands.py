"""The commands that keep a studio do so wherever it lies: a folder, a Postgres, a store of objects."""

from __future__ import annotations

import csv
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from evenhand.cli.main import run as run_command
from evenhand.errors import DatabaseAway
from evenhand.studio.school import School
from evenhand.studio.store.studio import Studio
from tests.places import Place, empty, everywhere
from tests.studios import QUICK, a_new_take

Run = Callable[..., str]
SOUND = b"RIFF\0\0\0\0WAVE" + bytes(2000)


@pytest.fixture
def run(place: Place, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run commands on the studio in a place; give what each says."""
    backing = place.backing
    at = ["--data", str(place.data)]
    at += ["--database", backing.url] if backing.url else []

    def run(*command: str | Path) -> str:
        objects = ["--objects", backing.objects] if backing.objects and command[0] != "reset-login" else []
        code = run_command([*map(str, command), *at, *objects])
        said = capsys.readouterr()
        assert code == 0, said
        return said.out

    return run


def fill(place: Place) -> None:
    """Take a student in, with two takes."""
    with place.create() as studio:
        mira = studio.students.add("Mira Sund")
        for number in range(2):
            studio.takes.receive(a_new_take(mira.id, f"key-{number}"), SOUND + bytes([number]))


@everywhere
def test_a_studio_is_backed_up_checked_tabled_and_put_back(place: Place, run: Run, tmp_path: Path) -> None:
    fill(place)
    assert "1 student, 2 takes, 2 recordings" in run("backup", "--out", tmp_path / "kept.zip")
    assert "Every take has its recording, as it came in." in run("check")
    run("table", "takes", "--out", tmp_path / "takes.csv")
    with (tmp_path / "takes.csv").open() as file:
        assert len(list(csv.DictReader(file))) == 2
    assert "1 student, 2 takes" in run("export-studio", "--out", tmp_path / "studio.zip")
    if place.url is not None:
        empty(place.url)
    assert "1 student, 2 takes" in run("restore", tmp_path / "kept.zip")
    assert "Every take has its recording, as it came in." in run("check")


def test_who_is_locked_out_comes_in_again(place: Place, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(place)
    monkeypatch.setenv("EVENHAND_PASSWORD", "four words that nobody tries")
    assert "the new password opens it" in run("reset-login", "--new-password")
    with Studio.open(place.data, backing=place.backing, hasher=QUICK) as studio:
        assert studio.access.check_password("four words that nobody tries")


@pytest.mark.parametrize(
    ("given", "code", "says"),
    [
        (("--database", "mysql://here"), 2, "one that begins postgresql://"),
        (("--studio", "mara"), 2, "both: only a school has several"),
        (("--database", "postgresql://nobody@127.0.0.1:1/none"), 3, "no Postgres answers"),
    ],
)
def test_an_address_that_is_none_is_refused(
    given: tuple[str, ...], code: int, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run_command(["check", "--data", str(tmp_path), *given]) == code
    assert says in capsys.readouterr().err


def test_a_postgres_that_dropped_its_connections_is_asked_anew(place: Place) -> None:
    if place.is_sqlite:
        pytest.skip("SQLite has no connections to lose")
    fill(place)
    with place.open() as studio, place.open() as other:
        with studio.data.database.writing() as connection:
            connection.exec_driver_sql(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE pid <> pg_backend_pid() AND usename = current_user"
            )
        assert len(other.takes.all()) == 2
        with (
            pytest.raises(DatabaseAway, match=r"terminating|closed"),
            other.data.database.reading() as held,
        ):
            held.exec_driver_sql("SELECT pg_terminate_backend(pg_backend_pid())")
        assert len(other.takes.all()) == 2


def test_a_schools_studio_is_called_by_its_teachers_login(place: Place, run: Run, tmp_path: Path) -> None:
    if place.url is None:
        pytest.skip("one file is one studio")
    fill(place)
    with closing(School(place.data, place.backing, hasher=QUICK)) as school:
        school.name_first("mara", "Mara Lindqvist")
        school.add("joss", "Joss Amari", "four words that nobody tries")
    assert "1 student, 2 takes" in run("backup", "--out", tmp_path / "mara.zip", "--studio", "mara")
    assert "0 students, 0 takes" in run("backup", "--out", tmp_path / "joss.zip", "--studio", "joss")
    with pytest.raises(AssertionError, match="who logs in there: joss, mara"):
        run("check", "--studio", "nobody")
