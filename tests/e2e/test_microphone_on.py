"""A student knows when the microphone is on, whether it hears anything, and what becomes of it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, Request, expect

from evenhand.studio.values import Student
from tests.e2e.furnished import RATE_HZ, Played, played
from tests.e2e.rooms import (
    PHONE,
    House,
    Room,
    a_room,
    a_student,
    choose_click,
    ready,
    start,
    until,
    until_heard,
)

pytestmark = pytest.mark.e2e

SAID_WITHIN_S = 2.0
FRAME = "getComputedStyle(document.body, '::after').borderTopWidth"
INK = "getComputedStyle(document.querySelectorAll('ellipse.ring')[{ring}]).strokeOpacity"  # as it is drawn
WATCH = """() => {
    // When silence is said, on the clock of the sound: a busy machine changes nothing.
    window.silentAtS = null;
    const hears = document.getElementById("hears");
    new MutationObserver(() => {
        if (window.silentAtS !== null || !hears.textContent.includes("hears nothing")) return;
        window.silentAtS = window.fed.contexts[0].currentTime - window.fed.openedAt;
    }).observe(hears, { childList: true });
}"""


def sent_by(page: Page) -> list[str]:
    """Note what the page sends, and which sockets it opens."""
    sent: list[str] = []

    def note(request: Request) -> None:
        if request.method == "POST":
            sent.append(request.url)

    page.on("request", note)
    page.on("websocket", lambda socket: sent.append(socket.url))
    return sent


def shown(room: Room, name: str) -> None:
    """Look at the page as it stands, light and dark."""
    room.look(f"{name}-390", whole=False)
    room.page.emulate_media(color_scheme="dark")
    room.look(f"{name}-390-dark", whole=False)
    room.page.emulate_media(color_scheme="light")


def quiet(seconds: float) -> Played:
    """Give a room's noise far below any stroke, -80 dB."""
    noise = np.random.default_rng(1).normal(0, 1e-4, int(seconds * RATE_HZ)).astype(np.float32)
    return Played(noise, (0.5,))


@pytest.fixture
def student(house: House, request: pytest.FixtureRequest) -> Student:
    """Take in somebody with a week of long takes."""
    return a_student(house, f"Iris {request.node.name[5:25]}", times=40)


def test_what_the_button_does_is_on_it_and_nothing_is_sent_before(
    browser: Browser, house: House, student: Student
) -> None:
    with a_room(browser, house, student, take=played(), viewport=PHONE) as room:
        sent = sent_by(room.page)
        page = ready(room)
        expect(page.locator("#go")).to_have_text("Start click and recording")
        expect(page.locator("#told")).to_be_in_viewport()
        expect(page.locator("#told")).to_contain_text("When you stop, the recording goes to your teacher.")
        expect(page.locator("#without")).to_be_in_viewport()
        expect(page.locator("#on-air")).to_be_hidden()
        shown(room, "stand-before")
        assert (page.evaluate("window.fed.opened"), sent) == (0, [])
        choose_click(page, "off")
        expect(page.locator("#go")).to_have_text("Start recording")
        expect(page.locator("#without")).to_be_hidden()  # without click and recording nothing is left


def test_recording_is_seen_while_it_lasts_and_the_level_follows_the_playing(
    browser: Browser, house: House, student: Student
) -> None:
    with a_room(browser, house, student, take=played(), viewport=PHONE) as room:
        page = ready(room)
        choose_click(page)
        start(page)
        expect(page.locator("#on-air")).to_be_in_viewport()
        expect(page.locator("#go")).to_have_text("Stop and send")
        expect(page.locator("#told")).to_have_text("When it stops, the recording goes to your teacher.")
        expect(page.locator("#hears")).to_have_text("The microphone hears sound.")
        assert page.title().startswith("Recording – ")
        assert page.evaluate(FRAME) == "4px"
        # a stroke reaches the outer rings, and between strokes they fade
        until(page, f"{INK.format(ring=3)} > 0.6")
        shown(room, "stand-recording")
        until(page, f"{INK.format(ring=5)} < 0.3")
        until(page, "document.getElementById('recorded-for').textContent >= '0:04'")
        page.locator("#go").click()
        until_heard(page)
        expect(page.locator("#on-air")).to_be_hidden()
        assert not page.title().startswith("Recording")
        assert page.evaluate(FRAME) != "4px"
        expect(page.locator("#go")).to_have_text("Start click and recording")
        expect(page.locator("#without")).to_be_visible()
        shown(room, "stand-after")


@pytest.mark.parametrize("hears", ["nothing at all", "a quiet room"])
def test_silence_is_said_within_two_seconds(
    browser: Browser, house: House, student: Student, hears: str
) -> None:
    """A microphone that is off gives nothing at all; a covered one, or a quiet room, very soft noise."""
    take = None if hears == "nothing at all" else quiet(30.0)
    with a_room(browser, house, student, take=take, fed=True, viewport=PHONE) as room:
        page = ready(room)
        page.evaluate(WATCH)
        choose_click(page)
        page.locator("#go").click()
        expect(page.locator("#hears")).to_have_text(
            "The microphone hears nothing. Is it covered, or switched off?"
        )
        assert page.evaluate("window.silentAtS") <= SAID_WITHIN_S
        expect(page.locator("#go")).to_have_text("Stop and send")  # still while it records
        shown(room, "stand-silence")
        page.locator("#discard").click()
        expect(page.locator("#status")).to_have_text("Not sent. The recording is deleted.")
    assert house.studio.takes.all(student.id) == []


def test_a_microphone_that_falls_silent_while_one_plays_is_named(
    browser: Browser, house: House, student: Student
) -> None:
    """The meter is fed blocks of 0.1 s: a peak of -60 dB is a quiet room, one of nothing no microphone."""
    with a_room(browser, house, student, fed=True) as room:
        page = ready(room)
        said = page.evaluate("""async () => {
            const { Meter } = await import("/static/stand-meter.js");
            const after = (...parts) => {
                const meter = new Meter(1000, 2.0);
                meter.due(0.5);
                for (const [peak, seconds] of parts)
                    for (let i = 0; i < 10 * seconds; i++) meter.push(peak, 100);
                meter.end();
                return meter.word;
            };
            return [
                after([0.3, 1.0]),
                after([0.3, 1.0], [0.001, 2.9]),
                after([0.3, 1.0], [0.001, 3.1]),
                after([0.3, 1.0], [0, 1.4]),
                after([0.3, 1.0], [0, 1.6]),
                after([0.001, 1.4]),
                after([0.001, 1.6]),
                after([0.001, 2.1]),
                after([0.001, 2.1], [0.3, 0.1]),
            ];
        }""")
    assert said == [
        "hears",
        "hears",
        "hears_nothing",
        "hears",
        "hears_nothing",
        "hears_wait",
        "hears_nothing_yet",
        "hears_nothing",
        "hears",
    ]


def test_without_recording_is_one_tap_and_the_microphone_stays_shut(
    browser: Browser, house: House, student: Student
) -> None:
    with a_room(browser, house, student, take=played(), viewport=PHONE) as room:
        sent = sent_by(room.page)
        page = ready(room)
        page.locator("#without").click()
        expect(page.locator("#status")).to_have_text("The click runs. Nothing is recorded.")
        expect(page.locator("#on-air")).to_be_hidden()
        expect(page.locator("#go")).to_have_text("Stop")
        page.locator("#go").click()
        expect(page.locator("#go")).to_have_text("Start click and recording")
        assert (page.evaluate("window.fed.opened"), sent) == (0, [])


def test_what_is_not_to_be_sent_is_not_sent_and_not_kept(
    browser: Browser, house: House, student: Student
) -> None:
    with a_room(browser, house, student, take=played(), viewport=PHONE) as room:
        sent = sent_by(room.page)
        page = ready(room)
        choose_click(page)
        start(page)
        until(page, "document.getElementById('recorded-for').textContent >= '0:03'")
        page.locator("#discard").click()
        expect(page.locator("#status")).to_have_text("Not sent. The recording is deleted.")
        assert [url for url in sent if not url.startswith("ws")] == []
        ready(room)  # nor is it offered when the page is opened again
        expect(page.locator("#kept")).to_be_hidden()
        assert page.evaluate("import('/static/keep.js').then(({ keptTakes }) => keptTakes())") == []
    assert house.studio.takes.all(student.id) == []


def test_without_consent_the_button_promises_no_recording(browser: Browser, house: House) -> None:
    with a_room(browser, house, house.people.theo, fed=True, viewport=PHONE) as room:
        page = ready(room, "/stand/practice/0?exercise=1/8%3A%20RLRL&tempo=120")
        expect(page.locator("#go")).to_have_text("Start the click")
        expect(page.locator("#told")).to_have_text("Nothing is recorded.")
        expect(page.locator("#without")).to_be_hidden()
        assert page.locator("input[name=place][value=off]").count() == 0
        page.locator("#go").click()
        expect(page.locator("#go")).to_have_text(re.compile("^Stop$"))
