"""Where a test's studio is kept: the same test runs on SQLite and on a real Postgres."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import inspect, text

from evenhand.studio.store.database import NEWEST, Database, revision_of, upgrade
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.school import outside
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata
from tests.objects import Store, program
from tests.objects import running as store_running
from tests.postgres import Server, programs, running
from tests.studios import QUICK, Clock, a_studio

BEATS_AGO = "UPDATE procrastinate_workers SET last_heartbeat = last_heartbeat - :gone"
DUE_SOONER = "UPDATE procrastinate_jobs SET scheduled_at = scheduled_at - :gone"


class ServersClock(Clock):
    """A clock that takes a Postgres' own along: to the queue, what was becomes so much longer ago."""

    def __init__(self, url: str) -> None:
        super().__init__()
        self.url = url

    def move(self, **by: float) -> None:
        """Move it, and what the server's clock wrote into the queue."""
        super().move(**by)
        database, gone = Database(self.url), {"gone": timedelta(**by)}
        with database.writing() as connection:
            connection.execute(text(BEATS_AGO), gone)
            connection.execute(text(DUE_SOONER), gone)
        database.close()


@dataclass
class Place:
    """A place for one studio, and the clock that its studio reads."""

    folder: Path
    url: str | None
    objects: str | None = None
    clock: Clock = field(default_factory=Clock)
    opened: list[Studio] = field(default_factory=list)

    @property
    def data(self) -> Path:
        """The studio's folder."""
        return self.folder / "studio"

    @property
    def backing(self) -> Backing:
        """What the studio is kept in beside its folder."""
        return Backing(self.url, objects=self.objects)

    @property
    def is_sqlite(self) -> bool:
        """Tell whether it is SQLite."""
        return self.url is None

    def create(self, **changes: Any) -> Studio:
        """Make a new studio here; it is closed at the end of the test."""
        studio = a_studio(self.folder, backing=self.backing, now=self.clock, **changes)
        self.opened.append(studio)
        return studio

    def open(self, **changes: Any) -> Studio:
        """Open the studio here once more, as another process would."""
        studio = Studio.open(
            self.data, backing=self.backing, **{"now": self.clock, "hasher": QUICK, **changes}
        )
        self.opened.append(studio)
        return studio


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """Run a Postgres for the whole of the tests; skip where there is none."""
    if programs() is None:
        pytest.skip("Postgres is not installed")
    with running() as server:
        yield server


@pytest.fixture(scope="session")
def objects() -> Iterator[Store]:
    """Run a store of objects for the whole of the tests, its keys in the environment."""
    if program() is None:
        pytest.skip("SeaweedFS is not installed")
    with store_running() as store, pytest.MonkeyPatch.context() as patch:
        for name, said in store.environment.items():
            patch.setenv(name, said)
        yield store


KINDS = ["sqlite", "postgres"]
IN_OBJECTS = pytest.param("objects", marks=pytest.mark.deep)
everywhere = pytest.mark.parametrize("place", [*KINDS, IN_OBJECTS], indirect=True)
"""The third: SQLite, with recordings in a store of objects; test_objects.py and test_direct.py are quick."""


def spoil(studio: Studio, key: str | None, content: bytes | None = None) -> None:
    """Let a recording have other bytes where it lies, or be gone."""
    if content is None:
        studio.data.recordings.files.remove(f"recordings/{key}")
    else:
        studio.data.recordings.files.write(f"recordings/{key}", content)


@pytest.fixture(params=KINDS)
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Place]:
    """Give a place for a studio, of each kind in turn."""
    url = kept_in = None
    if request.param == "objects":
        store: Store = request.getfixturevalue("objects")
        kept_in = store.address_of(tmp_path.name)
    if request.param == "postgres":
        server: Server = request.getfixturevalue("postgres")
        url = server.url.render_as_string(hide_password=False)
        empty(url)
    here = Place(tmp_path, url, kept_in, Clock() if url is None else ServersClock(url))
    yield here
    for studio in here.opened:
        studio.close()


def empty(url: str) -> None:
    """Leave the newest tables and nothing in them, whatever the test before did."""
    database = Database(url)
    with database.changing() as connection:
        there = set(inspect(connection).get_table_names()) - {"alembic_version"}
        if revision_of(connection) == NEWEST and ours(there) == {*metadata.tables, *outside.tables}:
            connection.execute(text(f"TRUNCATE {', '.join(there)}"))
        else:
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
            upgrade(connection)
    database.close()


def ours(tables: set[str]) -> set[str]:
    """Leave out the tables of the queue's engine."""
    return {name for name in tables if not name.startswith("procrastinate_")}


@pytest.fixture
def studio(place: Place) -> Studio:
    """Give a new, empty studio."""
    return place.create()
