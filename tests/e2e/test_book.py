"""The book in a browser: heard, put in order by mouse and by keys, undone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from evenhand.studio.values import BookEntry
from tests.e2e.rooms import DESK, House, a_room, until

pytestmark = pytest.mark.e2e


def titles(page: Page) -> list[str]:
    return page.locator(".card h4").all_inner_texts()


def test_order_by_mouse_and_by_keys_and_undo_after_a_reload(browser: Browser, house: House) -> None:
    book = house.studio.book
    was = [entry.id for entry in book.all()]
    book.add_all([BookEntry("", "1/8: RLRL", name, "Order") for name in ("Apple", "Beech", "Cedar")])
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        page = room.open("/book")
        page.get_by_role("button", name="Move down: Apple").press("Enter")
        expect(page.get_by_role("status")).to_have_text("Apple is number 2 of 3 in its section.")
        expect(page.get_by_role("button", name="Move down: Apple")).to_be_focused()
        cedar, beech = (page.locator(".card", has_text=name) for name in ("Cedar", "Beech"))
        beech.scroll_into_view_if_needed()
        cedar.locator(".grip").hover()
        page.mouse.down()
        box = beech.bounding_box()
        assert box
        page.mouse.move(box["x"] + 20, box["y"] + 20, steps=4)
        expect(beech).to_have_class(re.compile("drop-before"))
        page.mouse.up()
        expect(page.get_by_role("status")).to_have_text("Cedar is number 1 of 3 in its section.")
        assert titles(page)[-3:] == ["Cedar", "Beech", "Apple"]
        page.reload()
        for order in (["Beech", "Apple", "Cedar"], ["Apple", "Beech", "Cedar"]):
            page.get_by_role("button", name="Undo").click()
            expect(page.get_by_role("status")).to_contain_text("Undone: ")
            assert titles(page)[-3:] == order
        page.get_by_role("button", name="Undo").click()
        expect(page.get_by_role("status")).to_have_text("Undone: 3 exercises were added.")
    assert [entry.id for entry in book.all()] == was


def test_an_exercise_is_heard_where_it_stands(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        page = room.open("/book?shelf=flams")
        page.get_by_label("Heard").select_option("fast")
        first, second = page.locator("[data-hear]").nth(0), page.locator("[data-hear]").nth(1)
        with page.expect_response(lambda answer: "hear.mp3" in answer.url) as answered:
            first.click()
        assert "speed=fast" in answered.value.url
        expect(first).to_have_attribute("aria-pressed", "true")
        until(page, "document.getElementById('heard-here').currentTime > 0")
        second.press(" ")
        expect(first).to_have_text("Hear")
        expect(second).to_have_text("Stop")
        second.click()
        expect(second).to_have_attribute("aria-pressed", "false")
        assert page.evaluate("document.getElementById('heard-here').paused")
