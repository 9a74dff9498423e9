"""A student plays into the page's microphone, and the page says what was put into the playing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright, expect

from evenhand.application.heard_again import heard_take_of
from tests.e2e.furnished import EVEN, LATE_MS, RATE_HZ, played
from tests.e2e.rooms import (
    HOUR,
    PHONE,
    House,
    a_room,
    a_student,
    choose_click,
    launch,
    ready,
    start,
    until_heard,
    until_played,
)

pytestmark = pytest.mark.e2e

FAKE = ("--use-fake-device-for-media-stream",)
LATENCY_MS = (
    20.667  # of a page-fed microphone at 48 kHz, measured apart from this code (8 blocks of 128 and more)
)


def test_a_link_leads_to_a_heard_take_with_what_was_put_in(browser: Browser, house: House) -> None:
    """The left hand is 30 ms late by construction; the page must say so, and by how much."""
    june = a_student(house, "June Abara")
    secret, _ = house.studio.make_link(june.id, lasts=HOUR)
    with a_room(browser, house, take=played(), viewport=PHONE) as room:
        page = ready(room, f"/s/{secret}")
        choose_click(page)
        start(page)
        expect(page.locator("svg.rows path.r").first).to_be_attached()  # live, while it goes on
        until_heard(page)
        said = page.locator("#result").inner_text()
        found = re.search(r"left hand comes (\d+)\sms behind the right", said)
        assert found, said
        assert abs(int(found[1]) - LATE_MS) <= 5, (
            said
        )  # 16 strokes a hand of some 10 ms each: 3.5 ms of error
        assert "Offset unknown" in said
        sticks = {hand: page.locator(f"svg.rows path.{hand}:not(.tick)").count() for hand in "rl"}
        assert sticks == {"r": 16, "l": 16}  # all were drawn while it went on
        room.look("stand-heard-390")
        page.locator("#onward").click()
        expect(page.locator("#practice-title")).to_contain_text("RLRL RRLL")
        room.open("/stand")
        expect(page.locator("#practice-title")).to_contain_text("RLRL RRLL")  # the first is played
    (take,) = house.studio.takes(june.id)
    assert (take.status, take.source) == ("heard", "microphone")


def test_with_the_devices_delay_known_it_says_how_late_against_the_click(
    browser: Browser, house: House
) -> None:
    """The take lies on the click to the sample; the microphone's path is told as the device's delay."""
    ada = a_student(house, "Ada Wyndham")
    with a_room(browser, house, ada, take=played(EVEN)) as room:
        page = ready(room)
        kept = page.evaluate(
            """async (ms) => {
                const form = new FormData();
                form.append("label", "desk");
                form.append("latency_ms", ms);
                const headers = { "X-Evenhand-Csrf": document.body.dataset.csrf, Accept: "application/json" };
                return (await fetch("/stand/device", { method: "POST", body: form, headers })).json();
            }""",
            LATENCY_MS,
        )
        page.evaluate("id => localStorage.setItem('evenhand-stand-device', id)", kept["id"])
        page = ready(room)
        choose_click(page)
        start(page)
        until_heard(page)
        assert "Offset unknown" not in page.locator("#result").inner_text()
    (take,) = house.studio.takes(ada.id)
    assert take.latency_ms == pytest.approx(LATENCY_MS, abs=0.01)
    facts = take.facts
    due_s = float(facts["first_note_s"]) + LATENCY_MS / 1000
    whole = house.studio.take(take.id)
    assert whole is not None
    assert whole.heard is not None
    hits = heard_take_of(whole.heard).heard.hits
    true_s = [at - played(EVEN).notes_s[0] for at in played(EVEN).notes_s]
    off_ms = [1000 * (hit.time_s - due_s - at) for hit, at in zip(hits, true_s, strict=True)]
    assert max(abs(off) for off in off_ms) < 3.0, off_ms  # the clocks of page, microphone and file agree


def test_the_click_in_the_room_and_no_click_are_heard_too(browser: Browser, house: House) -> None:
    tess = a_student(house, "Tess Holloway")
    with a_room(browser, house, tess, take=played()) as room:
        page = ready(room)
        choose_click(page, "room")
        start(page)
        until_heard(page)
        assert "left hand comes" in page.locator("#result").inner_text()


def test_stopping_early_keeps_what_was_played_and_a_short_one_is_not_sent(
    browser: Browser, house: House
) -> None:
    omar = a_student(house, "Omar Teague", times=40)
    with a_room(browser, house, omar, take=played()) as room:
        page = ready(room)
        choose_click(page, "count-in")
        page.locator("#go").click()
        expect(page.locator("#status")).to_have_text("Count-in")
        page.locator("#go").click()
        expect(page.locator("#status")).to_contain_text(re.compile("Too short|silence"))
        start(page)
        until_played(page, 5.5)
        page.locator("#go").click()
        until_heard(page)
    assert len(house.studio.takes(omar.id)) == 1


def test_a_file_is_sent_without_any_script(browser: Browser, house: House, tmp_path: Path) -> None:
    lena = a_student(house, "Lena Farrow")
    file = tmp_path / "evening.wav"
    file.write_bytes(played().wav)
    with a_room(browser, house, lena, java_script_enabled=False) as room:
        page = room.open("/stand")
        page.get_by_text("Upload a recording").click()
        page.get_by_label("File").set_input_files(file)
        page.get_by_role("button", name="Send it").click()
        expect(page.get_by_role("status").first).to_have_text("It has arrived.")
        expect(page.locator("#result")).to_be_visible()
    assert len(house.studio.takes(lena.id)) == 1


def test_chromiums_own_microphone_is_heard(
    playwright: Playwright, chromium: str, house: House, tmp_path: Path
) -> None:
    """A smoke: the browser's fake device says 44,100 Hz and begins the file anywhere."""
    finn = a_student(house, "Finn Ardley")
    file = tmp_path / "microphone.wav"
    file.write_bytes(played().wav)
    browser = launch(playwright, chromium, *FAKE, f"--use-file-for-fake-audio-capture={file}")
    try:
        with a_room(browser, house, finn, permissions=["microphone"]) as room:
            page = ready(room)
            choose_click(page)
            start(page)
            expect(page.locator("svg.rows path.r").first).to_be_attached()
            expect(page.locator("#status")).to_have_text("Heard.")
    finally:
        browser.close()
    (take,) = house.studio.takes(finn.id)
    assert take.seconds is not None
    assert take.seconds > 5.0
    assert int(take.facts["rate"]) in {44_100, RATE_HZ}
