"""A served studio and a browser. Without Chromium the browser's tests are skipped, and say so."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright

from evenhand.studio.store.studio import Studio
from tests.e2e.furnished import furnish
from tests.e2e.rooms import House, launch
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

CHROMIUMS = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def chromium() -> str:
    found = next((path for name in CHROMIUMS if (path := shutil.which(name))), None)
    if found is None:
        pytest.skip(f"no browser here: none of {', '.join(CHROMIUMS)} is installed")
    return found


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    """Start Playwright for one module: while it runs, nothing else here may use asyncio."""
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="module")
def browser(playwright: Playwright, chromium: str) -> Iterator[Browser]:
    started = launch(playwright, chromium)
    yield started
    started.close()


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> Iterator[House]:
    assert chromium
    folder = tmp_path_factory.mktemp("served")
    with a_studio(folder) as studio:
        people = furnish(studio)
    with Served(folder / "studio") as served, Studio.open(folder / "studio", hasher=QUICK) as studio:
        yield House(served, studio, people)


@pytest.fixture
def house(furnished: House, request: pytest.FixtureRequest) -> Iterator[House]:
    """Give the studio to a test; where the test fails, the server's log is shown."""
    begin = len(furnished.served.log())
    yield furnished
    said = furnished.served.log()[begin:]
    if said and "Traceback" in said:
        pytest.fail(f"the server said while {request.node.name} ran:\n{said}")


@pytest.fixture
def folder(tmp_path: Path, chromium: str) -> Path:
    """Give a folder to tests that run a server of their own."""
    assert chromium
    return tmp_path
