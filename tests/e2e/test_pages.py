"""Every page, wide and narrow, light and dark: nothing an assistive device stumbles over, nothing cut off."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Route, expect

from evenhand.studio.values import Student
from tests.e2e.rooms import DESK, PHONE, House, Room, a_room, faults_of

pytestmark = pytest.mark.e2e

OVERLAPS = Path(__file__).with_name("overlaps.js").read_text("utf-8")
OTHERWISE = """() => [...document.querySelectorAll("body *")]
  .filter((each) => each.childElementCount === 0 && each.textContent.trim() && each.checkVisibility())
  .filter((each) => !getComputedStyle(each).fontFamily.startsWith('"Libertinus Serif"'))
  .map((each) => each.outerHTML.slice(0, 120))"""
TOO_WIDE = """() => [...document.querySelectorAll("details[open] .cols span")]
  .filter((each) => each.scrollWidth > each.clientWidth)
  .map((each) => each.textContent)"""
FACES = "**/faces/*.woff2"
TEACHER: Callable[[House], str] = lambda _house: "teacher"  # noqa: E731 - a row of the table
NORA: Callable[[House], Student] = lambda house: house.people.nora  # noqa: E731 - the same
NOBODY: Callable[[House], None] = lambda _house: None  # noqa: E731 - the same

SETTLED = "#plan:not(.htmx-request) .exercise"  # the week of a lesson, planned

# name, who looks, where, and what is there when it is whole
PAGES: dict[str, tuple[Any, str, str]] = {
    "login": (NOBODY, "/login", "h1"),
    "gone": (NOBODY, "/gone", "h1"),
    "error": (TEACHER, "/nothing", "h1"),
    "today": (TEACHER, "/", ".small-folded"),
    "students": (TEACHER, "/students", "table"),
    "student": (TEACHER, "/students/{nora}", "#progress h3"),
    "student-minor": (TEACHER, "/students/{theo}", "#consent"),
    "week-new": (TEACHER, "/students/{ida}/week", "#plan .row"),
    "week-sent": (TEACHER, "/students/{nora}/week?week={week}", "#plan .row"),
    "lesson": (TEACHER, "/students/{nora}/lesson?beside={even}&beside={late}", SETTLED),
    "take": (TEACHER, "/takes/{late}", ".take-body svg"),
    "take-even": (TEACHER, "/takes/{even}", ".take-body svg"),
    "take-failed": (TEACHER, "/takes/{failed}", "h1"),
    "take-beside": (TEACHER, "/takes/{late}/beside/{even}", "svg"),
    "book": (TEACHER, "/book", ".card"),
    "book-found": (TEACHER, "/book?shelf=&sticking=lR&swap=1&sort=easy", ".card"),
    "book-import": (TEACHER, "/book/import", "#pasted"),
    "book-week": (TEACHER, "/book/week?exercise=1%2F8%3A+RLRR&title=Mine", ".whose"),
    "book-write": (TEACHER, "/book/write?exercise=1%2F8%3A+RLRR", "#typed svg"),
    "hear": (TEACHER, "/hear", "#inbox li"),
    "overview": (TEACHER, "/overview", ".practised"),
    "lessons": (TEACHER, "/lessons", ".lessons"),
    "search": (TEACHER, "/search?q=nora", "#f-takes"),
    "term": (TEACHER, "/students/{nora}/report", "#says"),
    "path": (TEACHER, "/path", "h1"),
    "path-stage": (TEACHER, "/path/stage?name=tap", ".asked"),
    "path-stage-new": (TEACHER, "/path/stage?after=tap", ".asked"),
    "settings": (TEACHER, "/settings", "h1"),
    "access": (TEACHER, "/access", "table"),
    "second factor": (TEACHER, "/access/second", ".qr svg"),
    "stand": (NORA, "/stand", "#practice[data-ready]"),
    "stand-practice": (NORA, "/stand/practice/2", "#practice[data-ready]"),
    "stand-free": (
        NORA,
        "/stand/practice/0?exercise=1%2F8%3A+RRLL&tempo=1%2F4%3D100",
        "#practice[data-ready]",
    ),
    "stand-takes": (NORA, "/stand/takes", ".items"),
    "stand-take": (NORA, "/stand/takes/{late}", "#result svg"),
    "stand-drops": (NORA, "/stand/practice/0?exercise=1%2F2%3A+R-+L-", "#practice[data-ready] .guide svg"),
    "own-weeks": (NORA, "/stand/weeks", ".practised"),
    "parent": (NOBODY, "/p/{parent}", ".practised"),
    "stand-none": (lambda house: house.people.ida, "/stand", "h1"),
}


def opened(room: Room, name: str) -> None:
    """Open a page, and wait until it is whole."""
    people = room.house.people
    _, path, whole = PAGES[name]
    names = {"nora": people.nora.id, "theo": people.theo.id, "ida": people.ida.id, "week": people.week.id}
    names["parent"] = people.parent
    room.open(path.format_map({**names, **{key: take.id for key, take in people.takes.items()}}))
    expect(room.page.locator(whole).first).to_be_attached()


def check(room: Room, name: str) -> None:
    """Let axe look at the page, and see whether all of it can be read."""
    assert faults_of(room.page) == [], name
    assert room.page.evaluate(OTHERWISE) == [], f"{name}: words in another face than the page's"
    check_room(room, name)


def check_room(room: Room, name: str) -> None:
    """See whether it can be read without moving it sideways, and no words lie on others."""
    wide = room.page.evaluate("document.scrollingElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{name} is {wide} px wider than its window"
    assert room.page.evaluate(OVERLAPS) == [], name


@pytest.mark.parametrize("name", PAGES)
def test_a_page_wide_and_light_narrow_and_dark(browser: Browser, house: House, name: str) -> None:
    who, asked, refused = PAGES[name][0](house), [], []
    with a_room(browser, house, who, viewport=DESK, color_scheme="light") as room:
        room.page.on("request", lambda request: asked.append(request.url))
        room.page.on(
            "console", lambda said: refused.append(said.text) if "Content Security" in said.text else None
        )
        opened(room, name)
        room.look(f"{name}-1280")
        check(room, f"{name}, wide and light")
        room.page.set_viewport_size(PHONE)  # type: ignore[arg-type]
        room.look(f"{name}-390")
        room.page.emulate_media(color_scheme="dark")
        room.look(f"{name}-390-dark")
        check(room, f"{name}, narrow and dark")
        assert room.page.locator("h1").count() == 1
        assert room.page.locator("main").count() == 1
    own = (house.served.address, "data:", "blob:")
    assert [url for url in asked if not url.startswith(own)] == []  # nobody is asked but the studio
    assert refused == []


@pytest.mark.parametrize("face", ["own", "other"])
def test_the_headings_of_a_day_fit_their_columns(browser: Browser, house: House, face: str) -> None:
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        if face == "other":
            room.page.route(FACES, lambda route: route.abort())
        opened(room, "week-sent")
        room.page.locator("#day-1 summary").click()
        expect(room.page.locator("#day-1 .cols")).to_be_visible()
        assert room.page.evaluate(TOO_WIDE) == []


def test_a_week_that_is_printed_from_the_browser_has_its_days(browser: Browser, house: House) -> None:
    with a_room(browser, house, "teacher", viewport=DESK) as room:
        opened(room, "week-sent")
        room.page.locator("#day-1 summary").click()
        room.page.emulate_media(media="print")
        room.look("week-printed")
        expect(room.page.locator("#day-1 summary")).to_be_visible()
        expect(room.page.locator("#day-1 input[name=row_exercise]").first).to_be_visible()
        expect(room.page.locator("#link-hint")).to_be_hidden()
        assert room.page.locator("button:visible").count() == 0


@pytest.mark.parametrize("name", [name for name, (who, _, _) in PAGES.items() if who is PAGES["access"][0]])
def test_a_table_wider_than_a_phone_is_moved_by_itself(browser: Browser, house: House, name: str) -> None:
    """However long its words are; what is hidden in it, for those who listen, widens nothing either."""
    with a_room(browser, house, PAGES[name][0](house), viewport=PHONE) as room:
        opened(room, name)
        room.page.add_style_tag(content=".scroll table { min-width: 900px; }")
        check_room(room, f"{name}, narrow, with a wide table")


@pytest.mark.parametrize("name", PAGES)
def test_a_page_with_another_face(browser: Browser, house: House, name: str) -> None:
    """Where the page's face does not come, the machine's own stands in; here it is whichever is installed."""
    kept_away: list[str] = []
    with a_room(browser, house, PAGES[name][0](house), viewport=DESK, color_scheme="light") as room:

        def keep_away(route: Route) -> None:
            kept_away.append(route.request.url)
            route.abort()

        room.page.route(FACES, keep_away)
        opened(room, name)
        room.look(f"{name}-1280-other-face")
        check_room(room, f"{name}, wide")
        room.page.set_viewport_size(PHONE)  # type: ignore[arg-type]
        room.look(f"{name}-390-other-face")
        check_room(room, f"{name}, narrow")
    assert kept_away, "the page asked for no face of its own"
