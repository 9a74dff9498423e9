"""The stand in three engines, with a microphone that hears the room: takes, calls, delays, no network."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Playwright

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student
from tests.e2e.engines import ENGINES, Air, Engine, Window, a_window
from tests.e2e.furnished import People, played
from tests.e2e.rooms import HOUR, House, a_student
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

pytestmark = [pytest.mark.e2e, pytest.mark.parametrize("engine", ENGINES)]

NOBODY: People = None  # type: ignore[assignment]
READY = "document.querySelector('#practice[data-ready]') !== null"
CACHED = "(await (await caches.open('evenhand-pages')).keys()).map(({ url }) => new URL(url).pathname)"


@contextmanager
def a_stand(
    engine: Engine, playwright: Playwright, air: Air, house: House, name: str
) -> Iterator[tuple[Window, Student]]:
    """Open a new student's private link in an engine."""
    student = a_student(house, name)
    secret, _ = house.studio.access.make_link(student.id, lasts=HOUR)
    with a_window(engine, air, playwright) as window:
        window.address = house.served.address
        window.open(f"/s/{secret}")
        window.until(READY)
        yield window, student


def record(window: Window, air: Air) -> None:
    """Record a take without a click, from start to stop."""
    window.press("label:has(input[name=place][value=off])")
    window.press("#go")
    window.says("#status", "^Recording")
    air.play(played().wav)
    window.press("#go")


@pytest.fixture
def own_house(folder: Path) -> Iterator[House]:
    """Serve a studio that a test may end and begin again."""
    a_studio(folder).close()
    with Served(folder / "studio") as served, Studio.open(folder / "studio", hasher=QUICK) as studio:
        yield House(served, studio, NOBODY)


def test_the_day_opens_without_a_network_and_what_was_played_goes_later_once(
    engine: Engine, playwright: Playwright, air: Air, own_house: House
) -> None:
    with a_stand(engine, playwright, air, own_house, "Tilda Wenham") as (window, student):
        window.until(f"({CACHED}).filter((path) => path.startsWith('/stand/practice/')).length >= 2")
        own_house.served.kill()
        window.open("/stand")
        window.until(READY)
        record(window, air)
        window.says("#heard-line", "No connection. The recording is kept")
        window.goto("about:blank")
        window.open("/stand")
        window.says("#kept", "of Paradiddle")
        assert own_house.studio.takes.all(student.id) == []
        own_house.served.start()
        window.says("#kept", "It has arrived")
        window.open("/stand/takes")
        (take,) = own_house.studio.takes.all(student.id)
        assert take.source == "microphone"
        window.follow("form[action='/stand/leave'] button")
        window.until("(await caches.keys()).every((name) => name === 'evenhand-shell')")
        own_house.served.kill()
        window.goto(f"{window.address}/stand")
        assert "Paradiddle" not in window.seen()
        own_house.served.start()
