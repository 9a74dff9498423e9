"""A new teacher: from nothing to a printed sheet, by the ways that are there for everybody."""

from __future__ import annotations

import re
import time
from pathlib import Path

import httpx2
import pytest
from playwright.sync_api import Browser, expect

from evenhand.studio.store.studio import Studio
from evenhand.web.guard import COOKIE
from tests.e2e.furnished import People
from tests.e2e.rooms import House, Room, a_room
from tests.e2e.served import Served

pytestmark = pytest.mark.e2e

PASSWORD = "a stick in each hand"  # noqa: S105 - invented, for tests
NOBODY: People = None  # type: ignore[assignment]


class Counted:
    """Counts what a teacher does on the way: clicks and fields filled in."""

    def __init__(self, room: Room) -> None:
        self.page, self.clicks, self.fields = room.page, 0, 0
        self._began_s = time.monotonic()

    def click(self, role: str, name: str) -> None:
        """Click on what is called so."""
        self.page.get_by_role(role, name=name).first.click()  # type: ignore[arg-type]
        self.clicks += 1

    def fill(self, label: str, text: str) -> None:
        """Fill in the field that is called so."""
        self.page.get_by_label(label, exact=True).first.fill(text)
        self.fields += 1

    def __str__(self) -> str:
        """Say how much it was."""
        return f"{self.clicks} clicks, {self.fields} fields, {time.monotonic() - self._began_s:.1f} s"


def pdf_of(room: Room, path: str) -> bytes:
    """Fetch a file as the window's user."""
    cookies = {each["name"]: each["value"] for each in room.context.cookies()}
    answer = httpx2.get(f"{room.house.served.address}{path}", cookies={COOKIE: cookies[COOKIE]}, timeout=60.0)
    assert answer.headers["content-type"] == "application/pdf"
    return answer.content


def test_a_new_teacher_comes_from_nothing_to_a_printed_sheet(browser: Browser, folder: Path) -> None:
    data = folder / "new"
    with Served(data, password=PASSWORD) as served, Studio.open(data) as studio:
        assert "There is no studio" in served.log()
        with a_room(browser, House(served, studio, NOBODY)) as room:
            way = Counted(room)
            page = room.open("/")
            expect(page).to_have_title(re.compile("Log in"))
            way.fill("Password", "not this one")
            way.click("button", "Log in")
            expect(page.get_by_role("alert")).to_have_text("That is not the password. Try again.")
            way.fill("Password", PASSWORD)
            way.click("button", "Log in")
            room.look("today-first-1280")
            way.click("link", "Add a student")
            way.fill("Name", "Nora Veldt")
            way.click("button", "Add, and make the link")
            expect(page.get_by_role("heading", name="Nora Veldt is added")).to_be_visible()
            link = page.get_by_label("Address of the link").input_value()
            room.look("invited-1280")
            way.click("link", "Next week's practice")
            expect(page.locator("#plan .row").first).to_be_visible()
            room.look("week-proposed-1280")
            page.get_by_label("Your words to Nora Veldt").fill("Slowly.")
            way.click("button", "Send to Nora Veldt")
            expect(page.get_by_role("status").first).to_contain_text("Sent.")
            sheet = page.get_by_role("link", name="Print the sheet").get_attribute("href")
            assert sheet is not None
            content = pdf_of(room, sheet)
            assert content.startswith(b"%PDF-")
            assert content.rstrip().endswith(b"%%EOF")
            assert way.clicks <= 6, str(way)  # a wrong password among them
        with a_room(browser, House(served, studio, NOBODY)) as students:
            page = students.page
            page.goto(link)
            expect(page.get_by_role("heading", level=1)).to_contain_text("Today")
            expect(page.get_by_text("From your teacher: Slowly.")).to_be_visible()
        assert "Traceback" not in served.log(), served.log()


def test_the_sheet_with_a_new_link_opens_its_stand(browser: Browser, house: House) -> None:
    week = house.people.week
    with a_room(browser, house, "teacher") as room:
        before = {link.id for link in house.studio.access.links(house.people.nora.id)}
        page = room.open(f"/students/{house.people.nora.id}/week?week={week.id}")
        with page.expect_popup() as opened:
            page.get_by_role("button", name="Print it with a new private link").click()
        opened.value.close()
        after = {link.id for link in house.studio.access.links(house.people.nora.id)}
    assert len(after - before) == 1


def test_minutes_add_up_while_a_week_is_edited(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher") as room:
        page = room.open(f"/students/{house.people.ida.id}/week")
        expect(page.locator("#plan .row").first).to_be_visible()
        total = page.locator("#week-total")
        before = total.inner_text()
        page.locator("#plan summary").first.click()
        page.locator("input[name=row_repetitions]").first.fill("400")
        expect(total).not_to_have_text(before)
        page.locator("input[name=row_tempo]").first.fill("as fast as a hare")
        expect(page.locator("#week-total")).to_contain_text("cannot be read")
        page.get_by_role("button", name="Keep as a draft").click()
        expect(page.locator("input[name=row_tempo]").first).to_have_value("as fast as a hare")
        expect(page.get_by_text("What you typed is still here")).to_be_visible()
    assert house.studio.weeks.all(house.people.ida.id) == []


def test_the_book_is_engraved_as_it_is_typed(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher") as room:
        page = room.open("/book/write")
        page.locator("input[name=text]").first.press_sequentially("1/16: RLRR LRLL")
        expect(page.locator("#typed svg").first).to_be_visible()
