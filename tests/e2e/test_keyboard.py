"""Without a mouse: what a page is for can be done by keys alone, and one sees where one is."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.e2e.furnished import played
from tests.e2e.rooms import House, a_room, a_student, ready, until_heard
from tests.studios import PASSWORD

pytestmark = pytest.mark.e2e

MOST_TABS = 120


def tab_to(page: Page, selector: str, key: str = "Tab") -> None:
    """Go on by the tab key until something has the focus, and see that one sees it."""
    for _ in range(MOST_TABS):
        page.keyboard.press(key)
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            seen = page.evaluate(
                """() => {
                    const style = getComputedStyle(document.activeElement);
                    return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0
                        || style.boxShadow !== "none";
                }"""
            )
            assert seen, f"{selector} has the focus, and nobody sees it"
            return
    raise AssertionError(f"{selector} is not reached in {MOST_TABS} steps")


def test_a_teacher_logs_in_finds_a_student_and_sends_a_week_by_keys(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Vera Lindholm", stage="tap")
    with a_room(browser, house) as room:
        page = room.open("/login")
        expect(page.get_by_label("Password")).to_be_focused()  # by itself
        page.keyboard.type(PASSWORD)
        page.keyboard.press("Enter")
        expect(page).to_have_url(re.compile("/$"))
        page.keyboard.press("Tab")
        expect(page.locator(".skip")).to_be_focused()  # the way past the places comes first
        tab_to(page, f"a[href='/students/{student.id}']")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="Vera Lindholm", level=1)).to_be_visible()
        tab_to(page, f"a[href='/students/{student.id}/week']")
        page.keyboard.press("Enter")
        expect(page.locator("#plan .row").first).to_be_visible()
        tab_to(page, "#plan summary")
        page.keyboard.press("Enter")
        tab_to(page, "input[name=row_repetitions]")
        page.keyboard.type("8")  # what was there is marked, and so replaced
        tab_to(page, "button[name=act][value^='remove:']")
        tab_to(page, "button[name=do][value=send]", "Shift+Tab")
        page.keyboard.press("Enter")
        expect(page.get_by_role("status").first).to_contain_text("Sent.")
    assert [week.sent_at is not None for week in house.studio.weeks.all(student.id)] == [True]


def test_a_student_plays_by_keys(browser: Browser, house: House) -> None:
    student = a_student(house, "Wren Osgood")
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room)
        tab_to(page, "input[name=place]")
        page.keyboard.press("ArrowRight")
        expect(page.locator("input[value=headphones]")).to_be_checked()
        tab_to(page, "#go", "Shift+Tab")
        page.keyboard.press("Space")
        expect(page.locator("#status")).to_have_text(re.compile("^Recording"))
        until_heard(page)
        expect(page.locator("#result")).to_be_focused()  # a screen reader goes on with what was heard
        tab_to(page, "#onward")
        page.keyboard.press("Enter")
        expect(page.locator("#practice-title")).to_contain_text("RLRL RRLL")


def test_a_teacher_searches_and_goes_through_what_is_to_be_heard_by_keys(
    browser: Browser, house: House
) -> None:
    """The furnished studio has takes that nobody heard; the letters can be switched off."""
    with a_room(browser, house, "teacher") as room:
        page = room.open("/students")
        page.keyboard.press("/")
        expect(page.locator("#search")).to_be_focused()
        page.keyboard.type("to hear")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="Found for “to hear”")).to_be_visible()
        tab_to(page, "main a[href='/hear']")
        page.keyboard.press("Enter")
        rows = page.locator("#inbox > li")
        expect(page.locator("#keys")).to_be_visible()
        page.keyboard.press("j")
        page.keyboard.press("j")
        expect(rows.nth(1).locator("[data-open]")).to_be_focused()
        page.keyboard.press("k")
        page.keyboard.press("h")
        expect(rows.first.locator("button")).to_have_text("Noted")
        heard = rows.first.get_attribute("data-take")
        page.keyboard.press("/")
        page.keyboard.type("hear")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="Found for “hear”")).to_be_visible()
        page.locator("#letters input").uncheck()
        page.locator("h1").click()
        page.keyboard.press("/")
        expect(page.locator("#search")).not_to_be_focused()
    assert heard is not None
    assert house.studio.takes.get(heard).listened_at is not None
