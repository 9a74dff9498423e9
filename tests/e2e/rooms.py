"""Browsers at a served studio: who is let in, with which microphone, and what is looked at."""

from __future__ import annotations

import base64
import json
import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student
from evenhand.web.guard import COOKIE
from tests.e2e.furnished import RATE_HZ, TEMPO, People, Played, assign
from tests.e2e.served import Served

HOUR = timedelta(hours=1)
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
MICROPHONE = Path(__file__).with_name("microphone.js")
PATIENCE_MS, LOOK_MS = 30_000, 50
WEIGHTY = {"serious", "critical"}  # as axe-core calls them
SCREENSHOTS = "EVENHAND_SCREENSHOTS"  # a folder to keep pictures of the pages in

expect.set_options(timeout=PATIENCE_MS)


@dataclass(frozen=True)
class House:
    """A studio that is served, and the same studio opened here."""

    served: Served
    studio: Studio
    people: People


@dataclass
class Room:
    """One browser window at a house."""

    house: House
    context: BrowserContext
    page: Page

    def open(self, path: str) -> Page:
        """Go to a page of the studio."""
        self.page.goto(f"{self.house.served.address}{path}")
        return self.page

    def look(self, name: str, *, whole: bool = True) -> None:
        """Keep a picture of the page, whole or as far as it is seen, where pictures are wanted."""
        folder = os.environ.get(SCREENSHOTS)
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=Path(folder) / f"{name}.png", full_page=whole)


def launch(playwright: Playwright, chromium: str, *more: str) -> Browser:
    """Start a browser without a window."""
    arguments = ["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required", *more]
    return playwright.chromium.launch(executable_path=chromium, args=arguments)


@contextmanager
def a_room(
    browser: Browser,
    house: House,
    who: Student | str | None = None,
    *,
    take: Played | None = None,
    fed: bool = False,
    **options: Any,
) -> Iterator[Room]:
    """Open a window: nobody's, the teacher's (``"teacher"``), or a student's; its errors are failures.

    ``take`` is what the microphone hears; ``fed`` gives a microphone without a take.
    """
    context = browser.new_context(base_url=house.served.address, **{"viewport": DESK, **options})
    errors: list[str] = []
    try:
        if who is not None:
            context.add_cookies([_cookie(house, who)])
        if take is not None or fed:
            context.add_init_script(MICROPHONE.read_text("utf-8").replace("__TAKE__", _as_script(take)))
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", lambda error: errors.append(str(error)))
        yield Room(house, context, page)
        assert errors == []
    finally:
        context.close()


def _cookie(house: House, who: Student | str) -> Any:
    """Let somebody in, as the login and a link do."""
    if isinstance(who, Student):
        secret, _ = house.studio.access.begin("student", student_id=who.id, lasts=HOUR)
    else:
        secret, _ = house.studio.access.begin("teacher", lasts=HOUR)
    return {"name": COOKIE, "value": secret, "url": house.served.address, "httpOnly": True, "sameSite": "Lax"}


def _as_script(take: Played | None) -> str:
    if take is None:
        return "null"
    whole = np.round(np.clip(take.samples, -1, 1) * 32767).astype("<i2").tobytes()
    facts = {"rate": RATE_HZ, "base64": base64.b64encode(whole).decode(), "firstNoteS": take.notes_s[0]}
    return json.dumps(facts)


# Ways that more than one test goes.


def a_student(house: House, name: str, *, times: int = 4, tempo: str = TEMPO) -> Student:
    """Take a student in who has a week to practise."""
    student = house.studio.students.add(name, stage="tap")
    assign(house.studio, student, times=times, tempo=tempo)
    return student


def ready(room: Room, path: str = "/stand/practice/1") -> Page:
    """Open an item of today, or another page of the stand, and wait until its scripts are there."""
    page = room.open(path)
    expect(page.locator("#practice[data-ready]")).to_be_visible()
    return page


def choose_click(page: Page, place: str = "headphones") -> None:
    """Say where the click is heard; in headphones it is not in the recording."""
    page.locator(f"label:has(input[name=place][value={place}])").click()


def start(page: Page) -> None:
    """Begin, and wait until it records."""
    page.locator("#go").click()
    expect(page.locator("#status")).to_have_text(re.compile("^Recording"))


def until_heard(page: Page, patience_ms: float = PATIENCE_MS) -> None:
    """Wait until what was heard stands in the page."""
    expect(page.locator("#status")).to_have_text("Heard.", timeout=patience_ms)
    expect(page.locator("#result")).to_be_visible()


def faults_of(page: Page) -> list[str]:
    """Let axe look at the page, and list what keeps somebody from using it."""
    found = Axe().run(page).response["violations"]
    return [
        f"{each['impact']} {each['id']}: {each['help']}: {[node['html'][:200] for node in each['nodes']][:4]}"
        for each in found
        if each["impact"] in WEIGHTY
    ]


def until(page: Page, expression: str) -> None:
    """Wait until a script's expression is true in the page, which allows no other way of asking."""
    end_s = time.monotonic() + PATIENCE_MS / 1000
    while not page.evaluate(expression):
        assert time.monotonic() < end_s, f"waited in vain for {expression}"
        page.wait_for_timeout(LOOK_MS)


def until_played(page: Page, seconds: float) -> None:
    """Wait until so much of the microphone's take has sounded."""
    until(page, f"window.fed.contexts[0].currentTime > window.fed.beganAt + {seconds}")
