"""A student's weeks, made before anybody asks for them: the same as a page would make, and anew when due."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from evenhand.errors import DiskFull
from evenhand.studio.store.studio import Studio
from evenhand.studio.weeks import ahead
from evenhand.studio.weeks.ahead import KIND, Ahead, weeks_shown
from tests.desks import ADesk, a_desk, a_heard_take
from tests.places import Place
from tests.studios import NOON

NOW = NOON.astimezone()


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def make_all(studio: Studio) -> int:
    waiting, done = Ahead(studio, "worker-1"), 0
    while waiting.step(NOW):
        done += 1
    return done


def test_what_was_made_ahead_is_what_the_page_shows(desk: ADesk, monkeypatch: pytest.MonkeyPatch) -> None:
    studio = desk.studio
    nora, ida = (studio.students.add(name, stage="tap") for name in ("Nora Veldt", "Ida Quill"))
    for days in (9, 5, 2):
        a_heard_take(studio, nora.id, NOON - timedelta(days=days), stroke="tap")
    of_page = weeks_shown(studio, nora, NOW)
    assert of_page["exercises"]
    studio.made.keep(nora.id, KIND, "another key", "{}")
    assert make_all(studio) == 2

    def none_is_made(*_all: object) -> None:
        raise AssertionError("made again")

    with monkeypatch.context() as changed:
        changed.setattr(ahead, "_facts", none_is_made)
        assert weeks_shown(studio, nora, NOW) == of_page
        assert weeks_shown(studio, ida, NOW)["exercises"] == []
        for change in ({"stage": "full"}, {"name": "Nora Velde"}):
            with pytest.raises(AssertionError, match="made again"):
                weeks_shown(studio, studio.students.change(nora.id, **change), NOW)
    nora = studio.students.change(nora.id, stage="tap", name="Nora Veldt")
    a_heard_take(studio, nora.id, NOON - timedelta(days=1), stroke="tap")
    assert weeks_shown(studio, nora, NOW) != of_page


def test_who_was_heard_is_first_and_all_come_again_after_an_hour(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio, clock, made = place.create(), [10.0], list[str]()
    ids = [studio.students.add(f"Pupil {number}").id for number in range(3)]
    monkeypatch.setattr(ahead, "weeks_shown", lambda _studio, student, _now: made.append(student.id))
    monkeypatch.setattr("time.monotonic", lambda: clock[0])
    waiting = Ahead(studio, "worker-1")
    waiting.step(NOW)
    waiting.add(ids[1])
    waiting.step(NOW)
    assert made[1] == ids[1]
    while waiting.step(NOW):
        pass
    assert set(made) == set(ids)
    waiting.add("gone")
    assert waiting.step(NOW)
    assert not waiting.step(NOW)
    clock[0] += ahead.AGAIN_S
    assert waiting.step(NOW)


def test_one_that_cannot_be_made_holds_up_no_other(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    studio = place.create()
    for number in range(2):
        studio.students.add(f"Pupil {number}")

    def breaks(*_all: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(ahead, "weeks_shown", breaks)
    assert make_all(studio) == 2


def test_where_nothing_can_be_kept_the_page_shows_it_all_the_same(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio = place.create()
    ida = studio.students.add("Ida Quill")

    def full(_self: object) -> None:
        raise DiskFull(where="here")

    monkeypatch.setattr(type(studio.data.database), "writing", full)
    assert weeks_shown(studio, ida, NOW)["weeks"] == ""
    assert studio.made.find(ida.id, KIND, "x") is None


def test_what_was_made_goes_with_its_student(place: Place) -> None:
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    weeks_shown(studio, ida, NOW)
    studio.made.keep(ida.id, KIND, "a key", "first")
    studio.made.keep(ida.id, KIND, "a key", "second")
    assert studio.made.find(ida.id, KIND, "a key") == "second"
    studio.students.erase(ida.id)
    assert studio.made.find(ida.id, KIND, "a key") is None
    studio.made.keep(ida.id, KIND, "a key", "too late")  # made while the student was erased
    assert studio.made.find(ida.id, KIND, "a key") is None
