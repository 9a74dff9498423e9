"""The stand films beside its recording: the preview says what to change, and what is filmed is watched."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from evenhand.acts.takes.seen import seen_take_of
from tests.e2e.furnished import EVEN, TEXT, played
from tests.e2e.rooms import House, Room, a_room, a_student, choose_click, faults_of, ready, start, until_heard

pytestmark = pytest.mark.e2e

CAMERA = Path(__file__).with_name("camera.js")
FRAME = """([width, height, luma, patches, turn]) => {
    const canvas = Object.assign(document.createElement("canvas"), { width, height });
    const drawing = canvas.getContext("2d");
    drawing.fillStyle = `rgb(${luma},${luma},${luma})`;
    drawing.fillRect(0, 0, width, height);
    drawing.translate(width / 2, height / 2);
    drawing.rotate((turn * Math.PI) / 180);
    drawing.fillStyle = `rgb(${luma / 3},${luma / 3},${luma / 3})`;
    drawing.fillRect(-80, 20, 160, 40);
    drawing.setTransform(1, 0, 0, 1, 0, 0);
    for (const [x, y, w, h, colour] of patches) {
        drawing.fillStyle = colour;
        drawing.fillRect(x, y, w, h);
    }
    const { data } = drawing.getImageData(0, 0, width, height);
    return import("/static/stand-set-up.js").then(({ lookAt, tapeOf }) => {
        const found = lookAt(data, width, height, { R: "blue", L: "green" });
        return { ...found, R: tapeOf(found.tapes.R), L: tapeOf(found.tapes.L) };
    });
}"""
BLUE, GREEN = "rgb(20,70,210)", "rgb(30,170,60)"


@contextmanager
def a_filming_room(browser: Browser, house: House, who: Any) -> Iterator[Room]:
    take = played(EVEN)
    hands = [hand for hand in TEXT.partition(":")[2] if hand in "RL"]
    of = [(time_s, hands[k % len(hands)]) for k, time_s in enumerate(take.notes_s)]
    notes = {hand: [time_s for time_s, own in of if own == hand] for hand in "RL"}
    with a_room(browser, house, who, take=take) as room:
        room.context.add_init_script(CAMERA.read_text("utf-8").replace("__NOTES__", json.dumps(notes)))
        yield room


def turn_on(page: Page) -> None:
    page.locator("#film > summary").click()
    page.locator("#film-pad").fill("30")
    page.locator("#film-go").click()
    expect(page.locator("#film-view")).to_be_visible()


def test_a_take_that_is_filmed_is_watched_and_the_film_goes(browser: Browser, house: House) -> None:
    june = a_student(house, "June Abara")
    with a_filming_room(browser, house, june) as room:
        page = ready(room)
        choose_click(page)
        turn_on(page)
        said = page.locator("#film-said")
        expect(said).to_contain_text("Light: enough.")
        expect(said).to_contain_text("Tape of the right stick: blue is seen.")
        expect(said).to_contain_text("Tape of the left stick: green is seen.")
        room.look("stand-camera")
        assert faults_of(page) == []
        start(page)
        until_heard(page)
        expect(page.locator("#result")).to_contain_text("What was seen")
        page.locator("#film-go").click()
        expect(page.locator("#film-view")).to_be_hidden()
    (take,) = house.studio.takes.all(june.id, with_heard=True)
    assert (take.facts["tape"], take.facts["pad_cm"]) == ("R=blue,L=green", "30")
    assert 0.0 <= float(take.facts["film_starts_s"]) < 2.0
    assert take.original is None
    seen = seen_take_of(take.heard or "")
    assert seen is not None
    hands = [(stroke.hand, of.hit.hand) for stroke, of in zip(seen.watched.strokes, seen.asked, strict=True)]
    agree = sum(hand == written for hand, written in hands if hand is not None)
    assert agree >= 0.8 * len(hands)


def test_without_the_camera_nothing_is_filmed(browser: Browser, house: House) -> None:
    rosa = a_student(house, "Rosa Lindqvist")
    with a_filming_room(browser, house, rosa) as room:
        page = ready(room)
        choose_click(page)
        start(page)
        until_heard(page)
        expect(page.locator("#result")).not_to_contain_text("What was seen")
    (take,) = house.studio.takes.all(rosa.id)
    assert "film_starts_s" not in take.facts


@pytest.mark.parametrize(
    ("luma", "patches", "turn", "expected"),
    [
        (150, [[20, 20, 16, 8, BLUE], [200, 20, 16, 8, GREEN]], 0, (False, "found", "found", 0)),
        (30, [], 0, (True, "lost", "lost", None)),  # too dark to see an edge
        (150, [[0, 0, 240, 40, GREEN]], 0, (False, "lost", "much", 0)),
        (150, [], 8, (False, "lost", "lost", 8)),
        (150, [], -5, (False, "lost", "lost", -5)),
    ],
)
def test_the_preview_is_judged(
    browser: Browser, house: House, luma: int, patches: list[Any], turn: int, expected: tuple[Any, ...]
) -> None:
    with a_room(browser, house) as room:
        found = room.open("/login").evaluate(FRAME, [240, 160, luma, patches, turn])
    dark, right, left, tilt_deg = expected
    assert (found["dark"], found["R"], found["L"]) == (dark, right, left)
    assert found["tiltDeg"] == (None if tilt_deg is None else pytest.approx(tilt_deg, abs=1))
