"""What a student meets when something is in the way: no microphone, no network, a page that closes."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, Playwright, Route, expect

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student
from tests.e2e.furnished import played
from tests.e2e.rooms import (
    HOUR,
    House,
    Room,
    a_room,
    a_student,
    choose_click,
    launch,
    ready,
    start,
    until,
    until_heard,
    until_played,
)

pytestmark = pytest.mark.e2e

SECONDS_KEPT = """async () => {
    const done = (asked) => new Promise((then) => (asked.onsuccess = () => then(asked.result)));
    const db = await done(indexedDB.open("evenhand-stand", 1));
    const takes = await done(db.transaction("takes").objectStore("takes").getAll());
    db.close();
    return takes.reduce((sum, take) => sum + take.samples / take.rate, 0);
}"""


def kept_s(page: Page) -> float:
    """Give the seconds that the browser keeps."""
    return float(page.evaluate(SECONDS_KEPT))


def until_kept(page: Page, seconds: float) -> None:
    """Wait until the browser keeps so much."""
    until(page, f"({SECONDS_KEPT})().then((kept) => kept >= {seconds})")


def one_take_of(studio: Studio, student: Student) -> None:
    """Check that a take arrived, and once."""
    assert [take.source for take in studio.takes.all(student.id)] == ["microphone"]


def test_a_microphone_that_is_refused_is_explained_and_practice_goes_on(
    playwright: Playwright, chromium: str, house: House
) -> None:
    student = a_student(house, "Rhea Solano")
    browser = launch(playwright, chromium, "--use-fake-device-for-media-stream", "--deny-permission-prompts")
    try:
        with a_room(browser, house, student) as room:
            page = ready(room)
            page.locator("#go").click()
            trouble = page.locator("#trouble")
            expect(trouble).to_contain_text("not allowed for this page")
            expect(trouble).to_contain_text("upload the file")
            room.look("stand-refused-1280")
            trouble.get_by_role("button", name="Play without recording").click()
            expect(page.locator("#status")).to_have_text("The click runs. Nothing is recorded.")
            page.locator("#go").click()
            expect(page.locator("#go")).to_have_text("Start click and recording")
    finally:
        browser.close()
    assert house.studio.takes.all(student.id) == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("NotFoundError", "No microphone was found"),
        ("NotReadableError", "in use by another app"),
        ("TypeError", "did not open"),
    ],
)
def test_no_microphone_and_one_that_is_taken_are_told_apart(
    browser: Browser, house: House, name: str, words: str
) -> None:
    with a_room(browser, house, house.people.nora) as room:
        room.page.add_init_script(
            f"navigator.mediaDevices.getUserMedia = async () => {{ throw new DOMException('', '{name}'); }};"
        )
        page = ready(room)
        page.locator("#go").click()
        expect(page.locator("#trouble")).to_contain_text(words)
        expect(page.locator("#go")).to_be_enabled()


def test_another_page_that_records_is_named(browser: Browser, house: House) -> None:
    student = a_student(house, "Mila Brandt", times=40)
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room)
        choose_click(page, "count-in")
        start(page)
        second = room.context.new_page()
        ready(Room(house, room.context, second))
        second.locator("#go").click()
        expect(second.locator("#trouble")).to_contain_text("Another page of the stand is recording")
        second.close()
        page.locator("#go").click()
        expect(page.locator("#status")).not_to_have_text(re.compile("^Recording"))


def test_without_consent_the_click_runs_and_nothing_is_recorded(browser: Browser, house: House) -> None:
    with a_room(browser, house, house.people.theo, fed=True) as room:
        page = room.open("/stand/practice/0?exercise=1/8%3A+RLRL&tempo=1/4%3D120")
        expect(page.get_by_text("parent or guardian")).to_be_visible()
        page.locator("#go").click()
        expect(page.locator("#status")).to_have_text("The click runs. Nothing is recorded.")
        assert page.evaluate("window.fed.opened") == 0
    assert house.studio.takes.all(house.people.theo.id) == []


def test_a_network_that_is_cut_while_recording_loses_nothing(browser: Browser, house: House) -> None:
    student = a_student(house, "Bea Castell")
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room)
        choose_click(page)
        start(page)
        room.context.set_offline(True)
        expect(page.locator("#status")).to_contain_text("No connection. The recording is kept")
        assert kept_s(page) > 5.0
        assert house.studio.takes.all(student.id) == []
        room.context.set_offline(False)
        until_heard(page)
        assert kept_s(page) == 0.0
    one_take_of(house.studio, student)


def test_an_answer_that_is_lost_on_its_way_makes_no_second_take(browser: Browser, house: House) -> None:
    """The server has it, and the page does not know: it sends again, and it is kept once."""
    student = a_student(house, "Cleo Farraday")
    sent = []

    def lose_the_first_answer(route: Route) -> None:
        sent.append(route.fetch().status)
        if len(sent) == 1:
            route.abort("connectionreset")
        else:
            route.continue_()

    with a_room(browser, house, student, take=played()) as room:
        page = ready(room)
        page.route("**/stand/takes", lose_the_first_answer)
        choose_click(page)
        start(page)
        until_heard(page)
        page.unroute_all(behavior="wait")
    assert sent == [202, 200]
    one_take_of(house.studio, student)


def test_a_page_that_closes_before_it_has_sent_sends_when_it_is_open_again(
    browser: Browser, house: House
) -> None:
    student = a_student(house, "Hugo Lindqvist")
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room)
        choose_click(page)
        start(page)
        page.route("**/stand/takes", lambda route: route.abort("internetdisconnected"))
        expect(page.locator("#status")).to_contain_text("No connection")
        page.close()
        assert house.studio.takes.all(student.id) == []
        again = room.context.new_page()
        room.page = again
        room.open("/stand")
        expect(again.locator("#kept")).to_contain_text("It has arrived.")
        again.get_by_role("link", name="See what was heard").click()
        expect(again.locator("#result")).to_contain_text("left hand comes")
        room.open("/stand")
        expect(again.locator("#kept")).to_be_hidden()
    one_take_of(house.studio, student)


def test_a_recording_that_a_reload_breaks_off_is_offered_and_sent(browser: Browser, house: House) -> None:
    student = a_student(house, "Iris Vandermeer", times=40)
    with a_room(browser, house, student, take=played()) as room:
        page = ready(room)
        choose_click(page, "count-in")
        start(page)
        until_played(page, 5.5)
        until_kept(page, 5.0)
        page.on("dialog", lambda dialog: dialog.accept())  # "leave the page?"
        page.reload()
        kept = page.locator("#kept")
        expect(kept).to_contain_text("broke off")
        room.look("stand-kept-1280")
        assert house.studio.takes.all(student.id) == []
        kept.get_by_role("button", name="Send").click()
        expect(kept).to_contain_text("It has arrived.")
        kept.get_by_role("link", name="See what was heard").click()
        expect(page.locator("#result")).to_contain_text("left hand comes")
    one_take_of(house.studio, student)


def test_what_is_kept_is_another_students_secret(browser: Browser, house: House) -> None:
    """Two students of one family on one device: neither is shown the other's recording."""
    first, second = a_student(house, "Noor Galloway"), a_student(house, "Zeno Galloway")
    with a_room(browser, house, first, take=played()) as room:
        page = ready(room)
        choose_click(page)
        start(page)
        page.route("**/stand/takes", lambda route: route.abort("internetdisconnected"))
        expect(page.locator("#status")).to_contain_text("No connection")
        page.close()
        secret, _ = house.studio.access.make_link(second.id, lasts=HOUR)
        room.page = room.context.new_page()
        ready(room, f"/s/{secret}")
        assert kept_s(room.page) > 5.0
        expect(room.page.locator("#kept")).to_be_hidden()
    assert house.studio.takes.all(second.id) == []
