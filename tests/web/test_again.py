"""The page of what a newer ear hears otherwise: differences first, nothing shown until it is taken over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.acts.takes.document import ear_in, heard_take_of, json_text
from evenhand.studio.values import StudioTake
from evenhand.take import EAR
from evenhand.web.pages import now
from tests import desks
from tests.desks import ADesk, a_desk, a_heard_take, heard_json, words_of

EVEN: tuple[str, ...] = ()


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    monkeypatch.setattr(desks, "PLACES", (*desks.PLACES, "takes"))
    return a_desk(tmp_path, monkeypatch)


@pytest.fixture
def take(desk: ADesk) -> StudioTake:
    """Give a take of which the ear before heard one hit fewer."""
    nora = desk.studio.students.add("Nora Veldt")
    heard = heard_take_of(heard_json(EVEN, 4, 3))
    older = replace(heard, heard=replace(heard.heard, ear=EAR - 1, hits=heard.heard.hits[:-1]))
    take = a_heard_take(desk.studio, nora.id, now(), heard=json_text(older))
    return desk.studio.takes.get(take.id)


def done(desk: ADesk, **fields: str) -> str:
    """Send the form, and read the page that it leads to."""
    return words_of(desk.get(desk.post("/again", **fields).headers["location"]).text)


def hear_it(desk: ADesk, take: StudioTake) -> None:
    """Do what a worker does."""
    assert desk.studio.queue.claim("worker") is not None
    assert desk.studio.queue.took_heard(take.id, heard_json(EVEN, 4, 3), 4.0, worker="worker")


def test_older_takes_are_asked_for_taken_over_and_brought_back(desk: ADesk, take: StudioTake) -> None:
    assert "No take has two versions" in words_of(desk.get("/again").text)
    assert "1 take to be heard again" in done(desk, act="ask")
    waits = words_of(desk.get("/again").text)
    assert "1 take is still to be heard" in waits
    assert "Still to be heard." in waits
    hear_it(desk, take)
    found = words_of(desk.get("/again").text)
    n = len(heard_take_of(take.heard or "").heard.hits)
    assert "1 take: 1 with differences." in found
    assert f"hits heard now {n + 1}, before {n}" in found
    assert f"{n} hits before, {n + 1} now: 1 came" in found
    assert f"Ear {EAR - 1} is shown." in found
    assert desk.studio.takes.get(take.id).heard == take.heard
    assert "1 take taken over." in done(desk, act="over", take=take.id)
    assert ear_in(desk.studio.takes.get(take.id).heard or "") == EAR
    assert f"Ear {EAR} is shown; before, ear {EAR - 1}." in words_of(desk.get("/again").text)
    assert "1 take as before." in done(desk, act="back")
    assert desk.studio.takes.get(take.id).heard == take.heard


def test_a_take_with_corrections_is_left_when_all_are_taken_over(desk: ADesk, take: StudioTake) -> None:
    desk.studio.takes.change(take.id, corrected=True)
    desk.post("/again", act="ask")
    hear_it(desk, take)
    assert "with your corrections" in words_of(desk.get("/again").text)
    said = done(desk, act="over")
    assert "0 takes taken over. Left for your corrections: 1 take." in said
    assert "1 take taken over." in done(desk, act="over", take=take.id)


@pytest.mark.usefixtures("take")
def test_what_waits_is_let_go_and_what_nobody_can_mean_is_refused(desk: ADesk) -> None:
    desk.post("/again", act="ask")
    assert "1 take let go" in done(desk, act="stop")
    assert desk.studio.hearings.take_ids() == []
    assert "There is no take that an older ear" not in done(desk, act="ask")
    assert desk.post("/again", act="burn").status_code == 404
    assert desk.get("/again?from=abc").status_code == 200
    assert desk.get("/again?from=99999").status_code == 200
