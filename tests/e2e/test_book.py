"""The book in a browser: heard, put in order by mouse and by keys, undone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from evenhand.studio.values import BookEntry
from tests.e2e.rooms import DESK, PHONE, House, a_room, faults_of, until

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
        page.get_by_label("Hear at tempo").select_option("fast")
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


def test_what_was_understood_is_looked_at_before_it_is_kept(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher", viewport=PHONE) as room:
        page = room.open("/book/import")
        page.get_by_label("Or paste text").fill("1/8: RLRR  # Brought\n1/8: RXLL\n1/16: LLRR  # Left out\n")
        page.get_by_role("button", name="Show a preview").click()
        expect(page.locator(".notes li")).to_contain_text("line 2, column 7")
        expect(page.locator(".card svg")).to_have_count(2)
        room.look("book-understood-390")
        assert faults_of(page) == []
        page.get_by_role("checkbox", name="Left out").uncheck()
        page.get_by_role("button", name="Add the ticked ones").click()
        expect(page.get_by_role("status")).to_have_text("1 exercise is in the book.")
        expect(page.locator(".card", has_text="Brought")).to_be_in_viewport()
        page.get_by_role("button", name="Undo").click()
        expect(page.get_by_role("status")).to_have_text("Undone: Brought was added.")


def test_an_exercise_is_written_with_buttons_alone(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher", viewport=PHONE) as room:
        page = room.open("/book/write")
        line = page.locator("#text")

        def press(*names: str) -> None:
            for name in names:
                page.locator("#writer").get_by_role("button", name=name, exact=True).click()

        press("sixteenths", "right hand", "accent", "left hand", "right hand", "right hand")
        expect(line).to_have_value("1/16: >RLRR")
        press("write it again with the hands swapped")
        expect(line).to_have_value("1/16: >RLRR >LRLL")
        press("undo the last press", "left hand", "flam", "flam", "drag")
        expect(line).to_have_value("1/16: >RLRR rrL")
        press("a rest", "a bar line", "eighths", "eighth triplets", "right hand", "buzz", "ghost note")
        expect(line).to_have_value("1/16: >RLRR rrL- | 1/12: (R)~")
        press("ghost note", "take the last sign away", "take the last sign away", "take the last sign away")
        expect(line).to_have_value("1/16: >RLRR rrL- ")
        expect(page.locator("#typed svg").first).to_be_visible()
        assert page.evaluate("document.activeElement.id") != "text"  # so a phone's keyboard stays closed
        line.press("End")
        line.press_sequentially("L")
        press("undo the last press")
        expect(line).to_have_value("1/16: >RLRR rrL- ")
        press("write it again")
        with page.expect_response(lambda answer: "hear.mp3" in answer.url) as answered:
            page.get_by_role("button", name="Hear", exact=True).click()
        assert answered.value.ok
        expect(page.locator("#typed .notice")).to_have_count(0)
        room.look("book-buttons-390")
        page.get_by_role("button", name="Add it to the book").click()
        expect(page.locator(".card", has_text="1/16: >RLRR rrL->RL RR rrL-")).to_have_count(1)
        page.get_by_role("button", name="Undo").click()
