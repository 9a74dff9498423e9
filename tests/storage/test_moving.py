"""A student goes to another teacher of the school, with the past or without."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from evenhand.errors import NotFound, WrongOptions
from evenhand.studio import moving
from evenhand.studio.moving import ALWAYS, move_student, rows_of_student
from evenhand.studio.safekeeping.check import check_studio
from evenhand.studio.school import School
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata, students
from evenhand.studio.values import TEACHER, Student
from tests.full_studio import everything, fill, recordings_of
from tests.objects import Store
from tests.places import empty
from tests.postgres import Server
from tests.studios import PASSWORD, QUICK

THE_STUDIOS_OWN = {"studio", "known_devices", "book", "book_changes", "students"}


@pytest.fixture(params=["folder", "objects"])
def pair(
    request: pytest.FixtureRequest, postgres: Server, tmp_path: Path
) -> Iterator[tuple[Studio, Studio, Student, str]]:
    """Make two studios of one school; a student of the first has something of everything, and a link."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    store: Store | None = request.getfixturevalue("objects") if request.param == "objects" else None
    kept_in = Backing(url, objects=store.address_of(tmp_path.name) if store else None)
    school = School(tmp_path, kept_in, hasher=QUICK)
    school.bring_up_to_date(finish=True)
    mara, iven = (
        school.studio(school.add(login, login.capitalize(), PASSWORD).id) for login in ("mara", "iven")
    )
    link = fill(mara)
    (ida,) = mara.students.all()
    yield mara, iven, ida, link
    school.close()


def rows(studio: Studio, student: Student) -> dict[str, list[dict[str, Any]]]:
    """List what a studio has of a student, but for whose studio it is and what is made anew."""
    with studio.data.database.reading() as connection:
        found = {
            table.name: connection.execute(table.select().where(which).order_by(table.c.id)).mappings().all()
            for table in metadata.sorted_tables
            if (which := rows_of_student(table, student.id)) is not None and table.name != "made"
        }
    return {name: [{**row, "studio_id": ""} for row in those] for name, those in found.items()}


def test_every_table_is_of_a_student_or_of_the_studio() -> None:
    """A new table moves with its student by itself, or is named here."""
    found = {table.name for table in metadata.sorted_tables if rows_of_student(table, "x") is None}
    assert found == THE_STUDIOS_OWN
    assert set(metadata.tables) - THE_STUDIOS_OWN >= ALWAYS


def test_with_the_past_all_goes_along_and_nothing_stays(pair: tuple[Studio, Studio, Student, str]) -> None:
    mara, iven, ida, link = pair
    before, sounds, rest = rows(mara, ida), recordings_of(mara), mara.students.all(archived=True)
    assert all(before[name] for name in ("takes", "weeks", "said", "links", "devices", "drafts", "acts"))
    move_student(mara, iven, ida.id, with_past=True)
    assert rows(iven, ida) == before
    assert not any(rows(mara, ida).values())
    assert (mara.students.all(archived=None), iven.students.all(archived=None)) == (rest, [ida])
    assert recordings_of(iven).items() <= sounds.items()
    for studio in (mara, iven):
        assert check_studio(studio).is_well
        assert studio.data.sweep() == 0
    assert iven.access.student_of_link(link) == ida
    assert mara.access.student_of_link(link) is None


def test_without_the_past_it_stays_and_the_link_goes_along(pair: tuple[Studio, Studio, Student, str]) -> None:
    mara, iven, ida, link = pair
    mara.students.change(ida.id, notes="between us", signed_off="flam")
    before, sounds = rows(mara, ida), recordings_of(mara)
    move_student(mara, iven, ida.id, with_past=False)
    assert rows(mara, ida) == {**before, **{name: [] for name in ALWAYS}}
    assert {name for name, those in rows(iven, ida).items() if those} <= ALWAYS
    assert (recordings_of(mara), recordings_of(iven)) == (sounds, {})
    assert mara.students.get(ida.id).archived
    came = iven.students.get(ida.id)
    assert (came.name, came.notes, came.signed_off, came.archived) == (ida.name, "", "", False)
    assert iven.access.student_of_link(link) == came


def test_who_comes_back_finds_the_past(pair: tuple[Studio, Studio, Student, str]) -> None:
    mara, iven, ida, link = pair
    before = rows(mara, ida)["takes"]
    move_student(mara, iven, ida.id, with_past=False)
    with pytest.raises(NotFound):
        move_student(mara, iven, ida.id, with_past=True)  # has left
    move_student(iven, mara, ida.id, with_past=True)
    assert rows(mara, ida)["takes"] == before
    assert not mara.students.get(ida.id).archived
    assert iven.students.find(ida.id) is None
    assert mara.access.student_of_link(link) is not None


def test_broken_off_nothing_moves(
    pair: tuple[Studio, Studio, Student, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    mara, iven, ida, _ = pair
    before = everything(mara), everything(iven), recordings_of(mara), recordings_of(iven)

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(moving, "_put_in", broken)
    with pytest.raises(ZeroDivisionError):
        move_student(mara, iven, ida.id, with_past=True)
    assert (everything(mara), everything(iven), recordings_of(mara), recordings_of(iven)) == before
    mara.data.sweep()
    assert check_studio(mara).is_well


@pytest.mark.parametrize("with_past", [True, False])
def test_who_is_not_there_and_the_teacher_move_nowhere(
    pair: tuple[Studio, Studio, Student, str], *, with_past: bool
) -> None:
    mara, iven, ida, _ = pair
    mara.students.teacher()
    for student_id, to, error in (
        ("x", iven, NotFound),
        (TEACHER, iven, WrongOptions),
        (ida.id, mara, WrongOptions),
    ):
        with pytest.raises(error):
            move_student(mara, to, student_id, with_past=with_past)
    with iven.data.database.reading() as connection:
        assert connection.execute(students.select()).first() is None


def test_a_take_that_waits_waits_in_the_new_studio(pair: tuple[Studio, Studio, Student, str]) -> None:
    """One that a worker has in hand, too; what that worker says afterwards is of no take any more."""
    mara, iven, ida, _ = pair
    take = mara.takes.all(ida.id)[0]
    mara.queue.hear_again(take.id, exercise=take.exercise, tempo=take.tempo, click=take.click)
    assert take.id in claimed(mara, "w")
    move_student(mara, iven, ida.id, with_past=True)
    assert take.id in claimed(iven, "v")
    assert not mara.queue.took_heard(take.id, "{}", 1.0, worker="w")


def claimed(studio: Studio, worker: str) -> list[str]:
    """Claim all that waits."""
    found = []
    while (take := studio.queue.claim(worker)) is not None:
        found.append(take.id)
    return found
