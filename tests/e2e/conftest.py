"""A served studio and a browser. Without Chromium the browser's tests are skipped, and say so."""

from __future__ import annotations

import fcntl
import os
import pickle
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright

from evenhand.studio.store.studio import Studio
from tests.e2e.air import NEEDED, Air, program
from tests.e2e.furnished import People, furnish
from tests.e2e.rooms import House, launch
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

# These play and hear for long: they begin first, so that no worker is left with one of them at the end.
LONG = (
    "test_fortnight",
    "test_engines",
    "test_day",
    "test_killed",
    "test_recording",
    "test_trouble",
    "test_camera",
    "test_first_run",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: LONG.index(item.path.stem) if item.path.stem in LONG else len(LONG))


@pytest.fixture(scope="session")
def chromium() -> str:
    found = program("chromium")
    if found is None:
        pytest.skip(f"no browser here: none of {', '.join(NEEDED['chromium'])} is installed")
    return found


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """Start Playwright once a worker: while it runs, nothing else in the worker may use asyncio."""
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="session")
def browser(playwright: Playwright, chromium: str) -> Iterator[Browser]:
    started = launch(playwright, chromium)
    yield started
    started.close()


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder that all workers have in common."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


@pytest.fixture(scope="session")
def pattern(shared: Path) -> tuple[Path, People]:
    """Furnish a studio once for all workers: whoever comes first does it, and the others wait for it."""
    folder = shared / "furnished"
    folder.mkdir(exist_ok=True)
    people = folder / "people.pickle"
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not people.exists():
            with a_studio(folder) as studio:
                people.write_bytes(pickle.dumps(furnish(studio)))
    return folder / "studio", pickle.loads(people.read_bytes())  # noqa: S301 - written above


@pytest.fixture(scope="session")
def furnished(
    tmp_path_factory: pytest.TempPathFactory, pattern: tuple[Path, People], chromium: str
) -> Iterator[House]:
    assert chromium
    folder = tmp_path_factory.mktemp("served")
    furnished_before, people = pattern
    shutil.copytree(furnished_before, folder / "studio")
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


@pytest.fixture(scope="session")
def air(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Iterator[Air]:
    """Give a room in which pages and takes sound, and microphones hear; without all engines it is skipped."""
    if missing := [name for name in NEEDED if program(name) is None]:
        pytest.skip(f"not all engines are here: {', '.join(missing)} (docs/engines.md)")
    made = Air(tmp_path_factory.mktemp("air"), shared / "turn")
    yield made
    made.close()


@pytest.fixture
def folder(tmp_path: Path, chromium: str) -> Path:
    """Give a folder to tests that run a server of their own."""
    assert chromium
    return tmp_path
