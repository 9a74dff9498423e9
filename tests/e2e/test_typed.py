"""What a teacher types is there again, and what was wrong stands where the eye is."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.e2e.rooms import DESK, PHONE, House, a_room, until

pytestmark = pytest.mark.e2e

IN_SIGHT = """(id) => {
    const { top, bottom } = document.getElementById(id).getBoundingClientRect();
    return top >= 0 && bottom <= window.innerHeight;
}"""


def first_row(page: Page) -> None:
    """Wait for the proposal, and open its first day."""
    expect(page.locator("#plan details.day").first).to_be_attached()
    if not page.locator("#day-1[open]").count():
        page.locator("#day-1 summary").click()


def test_a_link_followed_in_the_middle_of_typing_loses_nothing(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Sanna Reedmark", stage="tap")
    here = f"/students/{student.id}/week"
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        page = room.open(here)
        first_row(page)
        page.locator("#row-0 input[name=row_tempo]").fill("72")
        page.get_by_label("Your words to").fill("Let it fall, do not push.")
        page.get_by_role("link", name="Students").first.click()  # sooner than any pause in typing
        expect(page.locator("h1")).to_have_text("Students")
        room.open(here)
        expect(page.get_by_label("Your words to")).to_have_value("Let it fall, do not push.")
        first_row(page)
        expect(page.locator("#row-0 input[name=row_tempo]")).to_have_value("72")
        expect(page.locator("#row-0-tempo")).to_have_text("1/4 = 72")  # as it is felt
        expect(page.locator("#week-typed")).to_contain_text("You typed this on")
        room.look("week-typed-1280")
        page.set_viewport_size(PHONE)  # type: ignore[arg-type]
        room.look("week-typed-390")
        page.get_by_role("button", name="Discard it").click()
        expect(page.get_by_label("Your words to")).to_have_value("")
        first_row(page)
        expect(page.locator("#row-0 input[name=row_tempo]")).not_to_have_value("72")


def test_words_typed_while_a_week_is_proposed_survive_a_reload_and_a_logout(
    browser: Browser, house: House
) -> None:
    student = house.studio.students.add("Otis Vanderlin", stage="tap")
    here = f"/students/{student.id}/week"
    with a_room(browser, house, "teacher") as room:
        page = room.open(here)
        page.get_by_label("Your words to").fill("Slowly.")
        page.reload()
        expect(page.get_by_label("Your words to")).to_have_value("Slowly.")
        first_row(page)
        page.get_by_label("Your words to").fill("Slowly, please.")
        expect(page.locator("#week-typed")).to_contain_text("What you type is kept.")
        page.locator("form[action='/logout'] button").click()
        expect(page).to_have_url(f"{house.served.address}/login")
    with a_room(browser, house, "teacher") as room:
        expect(room.open(here).get_by_label("Your words to")).to_have_value("Slowly, please.")


def test_a_week_that_was_sent_is_no_longer_typed(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Edda Kornblum", stage="tap")
    with a_room(browser, house, "teacher") as room:
        page = room.open(f"/students/{student.id}/week")
        first_row(page)
        page.locator("#row-0 input[name=row_repetitions]").fill("9")
        page.locator("button[name=do][value=send]").click()
        expect(page.get_by_role("status").first).to_contain_text("Sent.")
        expect(page.locator("#week-typed form")).to_have_count(0)
    assert house.studio.weeks.drafts(student.id) == []


def test_a_wrong_name_is_said_where_it_was_typed(browser: Browser, house: House) -> None:
    student = house.studio.students.add("Lotte Amberg")
    with a_room(browser, house, "teacher", viewport=PHONE) as room:
        page = room.open(f"/students/{student.id}")
        page.locator("details:has(#erase-name) > summary").click()
        field = page.locator("#erase-name")
        field.fill("Lotte")
        page.locator("form[action$='/erase'] button").click()
        expect(field).to_be_focused()
        expect(field).to_have_accessible_description("That is not the name. Nothing was erased.")
        until(page, f"({IN_SIGHT})('wrong-erase')")
        room.look("erase-wrong-390")
    assert house.studio.students.find(student.id) is not None
