"""What could not be heard is set aside with its reason, until the teacher has seen to it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from evenhand.studio.store.queue import GAVE_UP, MOST_TRIES
from evenhand.studio.values import StudioTake
from tests import desks
from tests.desks import TEXT, ADesk, a_desk, words_of
from tests.studios import NOON, a_new_take

WHY = "tuesday.wav: silence from end to end."


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    monkeypatch.setattr(desks, "PLACES", (*desks.PLACES, "takes"))
    return a_desk(tmp_path, monkeypatch)


def set_aside(desk: ADesk, name: str, reason: str) -> StudioTake:
    """Let a take of somebody come that cannot be heard."""
    student = desk.studio.students.add(name)
    new = a_new_take(student.id, f"key-{name}", exercise=TEXT, recorded_at=NOON - timedelta(days=1))
    take, _ = desk.studio.takes.receive(new, b"sound of " + name.encode())
    desk.studio.queue.claim("worker")
    desk.studio.queue.took_failed(take.id, reason, worker="worker")
    return take


def test_each_stands_there_with_whose_it_is_why_and_after_how_many_tries(desk: ADesk) -> None:
    assert "No take is set aside." in words_of(desk.get("/hear/aside").text)
    assert "set aside" not in words_of(desk.get("/hear").text)
    take = set_aside(desk, "Nora <b>Veldt", WHY)
    set_aside(desk, "Ida Quill", GAVE_UP)
    desk.studio.takes.change(take.id, tried=MOST_TRIES)
    assert "2 takes are set aside" in words_of(desk.get("/hear").text)
    shown = desk.get("/hear/aside").text
    assert "Nora &lt;b&gt;Veldt" in shown
    for said in (WHY, "after 3 tries.", "Ida Quill", GAVE_UP, "after 1 try.", TEXT):
        assert said in words_of(shown)


def test_heard_again_it_waits_as_what_it_was_and_goes_from_the_page(desk: ADesk) -> None:
    take = set_aside(desk, "Nora Veldt", WHY)
    other = set_aside(desk, "Ida Quill", WHY)
    answer = desk.post("/hear/aside", take=[take.id, "unknown"], act="again")
    assert "1 take to be heard again." in words_of(desk.get(answer.headers["location"]).text)
    waits = desk.studio.takes.get(take.id)
    assert (waits.status, waits.exercise, waits.tempo) == ("waiting", take.exercise, take.tempo)
    assert [each.id for each in desk.studio.queue.set_aside()] == [other.id]


def test_left_it_goes_from_the_page_and_says_at_the_take_why_it_was_not_heard(desk: ADesk) -> None:
    take = set_aside(desk, "Nora Veldt", WHY)
    answer = desk.post("/hear/aside", take=take.id, act="leave")
    assert "Left as it is: 1 take." in words_of(desk.get(answer.headers["location"]).text)
    assert desk.studio.queue.set_aside() == []
    assert WHY in words_of(desk.get(f"/takes/{take.id}").text)
    assert desk.studio.takes.get(take.id).status == "failed"


def test_what_is_not_set_aside_is_not_touched(desk: ADesk) -> None:
    take = set_aside(desk, "Nora Veldt", WHY)
    desk.studio.queue.took_heard(take.id, "{}", 1.0)
    desk.studio.takes.change(take.id, status="heard", set_aside_at=None)
    desk.post("/hear/aside", take=take.id, act="again")
    assert desk.studio.takes.get(take.id).status == "heard"
