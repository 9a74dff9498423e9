"""The teacher's word on a take is on the first page; the student answers, by voice too; the desk shows it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.e2e.furnished import send_take
from tests.e2e.rooms import PHONE, House, a_room, a_student, until
from tests.e2e.test_pages import check

pytestmark = pytest.mark.e2e

HUM = "() => { const tone = new OscillatorNode(fed.contexts.at(-1)); tone.connect(fed.out); tone.start(); }"
WORDS = "Let the left stick fall, don't push it."


def speak(page: Page) -> None:
    """Record a voice note of a second or two."""
    page.get_by_role("button", name="Record a voice note").click()
    until(page, "window.fed.out !== undefined")
    page.evaluate(HUM)
    expect(page.get_by_text("Recording: 0:01")).to_be_visible()
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_label("Your voice note")).to_be_visible()


def test_words_go_both_ways(browser: Browser, house: House) -> None:
    vera = a_student(house, "Vera Quist")
    take = send_take(house.studio, vera, timedelta(days=2))
    with a_room(browser, house, "teacher", fed=True) as room:
        page = room.open(f"/takes/{take.id}")
        page.get_by_label("To Vera Quist", exact=True).fill(WORDS)
        speak(page)
        page.get_by_role("button", name="Send to").click()
        expect(page.get_by_text("not opened yet")).to_be_visible()
        check(room, "words-at-the-desk")
        room.look("words-at-the-desk")
    with a_room(browser, house, vera, fed=True, viewport=PHONE) as room:
        page = room.open("/stand")
        expect(page.get_by_text(WORDS)).to_be_visible()
        check(room, "words-on-the-first-page")
        room.look("words-on-the-first-page")
        page.locator(".news").get_by_role("link", name="'s Paradiddle").click()
        expect(page.locator(".thread .new")).to_be_visible()
        speak(page)
        page.get_by_label("Write to your teacher").fill("Which finger?")
        check(room, "words-answered")
        room.look("words-answered")
        page.get_by_role("button", name="Send to your teacher").click()
        expect(page.get_by_text("Your teacher can see it now.")).to_be_visible()
        page.get_by_role("button", name="I don't understand").click()
        expect(page.get_by_text("I don't understand this.")).to_be_visible()
        room.open("/stand")
        expect(page.get_by_text(WORDS)).not_to_be_visible()
    with a_room(browser, house, "teacher") as room:
        page = room.open("/")
        answers = page.locator(".answer", has_text="Vera Quist")
        expect(answers.first).to_contain_text("Which finger?")
        room.look("words-on-the-day")
        answers.first.get_by_role("link").click()
        expect(page.locator(".thread .new")).to_have_count(2)
        expect(page.locator(".thread audio")).to_have_count(2)
