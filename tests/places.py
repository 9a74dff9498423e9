"""Where a test's studio is kept: the same test runs on SQLite and on a real Postgres."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from evenhand.storage.database import Database
from evenhand.storage.migrating import upgrade
from evenhand.storage.studio import Studio
from tests.postgres import Server, programs, running
from tests.studios import QUICK, Clock, a_studio


@dataclass
class Place:
    """A place for one studio, and the clock that its studio reads."""

    folder: Path
    url: str | None
    clock: Clock = field(default_factory=Clock)
    opened: list[Studio] = field(default_factory=list)

    @property
    def data(self) -> Path:
        """The studio's folder."""
        return self.folder / "studio"

    @property
    def is_sqlite(self) -> bool:
        """Tell whether it is SQLite."""
        return self.url is None

    def create(self, **changes: Any) -> Studio:
        """Make a new studio here; it is closed at the end of the test."""
        studio = a_studio(self.folder, url=self.url, now=self.clock, **changes)
        self.opened.append(studio)
        return studio

    def open(self, **changes: Any) -> Studio:
        """Open the studio here once more, as another process would."""
        studio = Studio.open(self.data, url=self.url, **{"now": self.clock, "hasher": QUICK, **changes})
        self.opened.append(studio)
        return studio


@dataclass(frozen=True)
class Postgres:
    """A server, and a database there that has the tables already."""

    server: Server
    template: str


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """Run a Postgres for the whole of the tests; skip where there is none."""
    if programs() is None:
        pytest.skip("Postgres is not installed")
    with running() as server:
        template = server.make()
        database = Database(server.url(template))
        with database.alone() as connection:
            upgrade(connection)
        database.close()
        yield Postgres(server, template)


@pytest.fixture(params=["sqlite", "postgres"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Place]:
    """Give a place for a studio, of each kind in turn."""
    url = None
    if request.param == "postgres":
        found: Postgres = request.getfixturevalue("postgres")
        url = found.server.url(found.server.make(found.template)).render_as_string(hide_password=False)
    here = Place(tmp_path, url)
    yield here
    for studio in here.opened:
        studio.close()


@pytest.fixture
def studio(place: Place) -> Studio:
    """Give a new, empty studio."""
    return place.create()
