"""Recordings that go from the page to a store of objects and back, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Route, expect

from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from tests.e2e.furnished import People, played
from tests.e2e.rooms import House, a_room, a_student, choose_click, ready, start, until_heard
from tests.e2e.served import Served
from tests.objects import Store
from tests.places import objects
from tests.studios import QUICK, a_studio

__all__ = ["objects"]
pytestmark = pytest.mark.e2e
PLAYS = """() => new Promise((done) => {
    const sound = document.querySelector("audio#sound");
    sound.addEventListener("canplaythrough", () => done(sound.duration));
    sound.addEventListener("error", () => done(-1));
    sound.load();
})"""


@pytest.fixture
def far(objects: Store, folder: Path) -> Iterator[House]:
    """Give a house whose recordings lie in a store that pages reach."""
    kept_in = f"{objects.address_of(quote(folder.name))}&links={objects.endpoint}"
    backing = Backing(objects=kept_in)
    a_studio(folder, backing=backing).close()
    data: Any = None
    with (
        Served(folder / "studio", "--objects", kept_in) as served,
        Studio.open(folder / "studio", backing=backing, hasher=QUICK) as studio,
    ):
        yield House(served, studio, People(data, data, data, {}, data, data))


@pytest.mark.parametrize("reached", [True, False], ids=["past the server", "where the page reaches none"])
def test_a_take_is_played_kept_heard_and_listened_to(browser: Browser, far: House, *, reached: bool) -> None:
    """It goes past the server; where the store is not reached from the page, it goes through it."""
    student = a_student(far, "June Abara")
    asked: set[str] = set()
    store = (far.studio.data.recordings.files.where).rpartition(" at ")[2]

    def passes(route: Route) -> None:
        if reached or route.request.method == "GET":
            route.continue_()
        else:
            route.abort()

    with a_room(browser, far, student, take=played()) as room:
        room.page.route(f"{store}/**", passes)
        room.page.on("request", lambda request: asked.add(f"{request.method} {request.url[: len(store)]}"))
        page = ready(room)
        choose_click(page)
        start(page)
        until_heard(page)
        (take,) = far.studio.takes.all(student.id)
        assert (take.status, (take.recording or "").endswith(".flac")) == ("heard", True)
        assert f"PUT {store}" in asked
        room.open(f"/stand/takes/{take.id}")
        expect(page.locator("audio#sound")).to_be_visible()
        assert page.evaluate(PLAYS) == pytest.approx(far.studio.takes.get(take.id).seconds, abs=0.2)
        assert f"GET {store}" in asked
