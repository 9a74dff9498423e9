"""How often somebody may come: the same in the memory of one process and in a Postgres that several share."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import text

from evenhand.studio.store.database import Database
from evenhand.studio.work.shared import SharedTries
from evenhand.web.guard import Limiter
from tests.places import empty, postgres
from tests.postgres import Server

__all__ = ["postgres"]

Limits = Mapping[str, tuple[int, float]]
Makes = Callable[[Limits], Limiter]


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    at = [1000.0]
    monkeypatch.setattr("evenhand.web.guard.time.monotonic", lambda: at[0])
    return at


@pytest.fixture
def database(postgres: Server) -> Iterator[Database]:
    """Give a Postgres with its tables."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    made = Database(url)
    yield made
    made.close()


@pytest.fixture(params=["memory", "postgres"])
def limiter_of(request: pytest.FixtureRequest, clock: list[float]) -> Makes:
    """Make a limiter of each kind."""
    if request.param == "memory":
        return Limiter
    tries = SharedTries(request.getfixturevalue("database"), lambda: clock[0])
    return lambda limits: Limiter(limits, tries=tries)


def rows(database: Database) -> int:
    with database.reading() as connection:
        return int(connection.execute(text("SELECT count(*) FROM tries")).scalar_one())


def test_so_many_come_in_so_many_seconds(limiter_of: Makes, clock: list[float]) -> None:
    limiter = limiter_of({"route": (3, 60.0)})
    assert [limiter.allows("route", "here") for _ in range(5)] == [True, True, True, False, False]
    assert limiter.allows("route", "there")
    clock[0] += 60.1
    assert limiter.allows("route", "here")


def test_the_seconds_are_counted_from_each_coming_and_refusals_do_not_count(
    limiter_of: Makes, clock: list[float]
) -> None:
    """By hand: at 0 and 40 s two come; at 50 s it is full; at 61 s the first is forgotten."""
    limiter = limiter_of({"route": (2, 60.0)})
    seen = []
    for at in (0, 40, 50, 61, 62, 101):
        clock[0] = 1000.0 + at
        seen.append(limiter.allows("route", "here"))
    assert seen == [True, True, False, True, False, True]


def test_what_was_no_guess_is_taken_back_and_no_more_than_there_was(limiter_of: Makes) -> None:
    limiter = limiter_of({"route": (1, 60.0)})
    limiter.takes_back("route", "here")
    assert limiter.allows("route", "here")
    limiter.takes_back("route", "here")
    limiter.takes_back("route", "here")
    assert [limiter.allows("route", "here") for _ in range(2)] == [True, False]


def test_who_came_long_ago_takes_no_room(clock: list[float]) -> None:
    limiter = Limiter({"route": (3, 60.0)})
    for number in range(5000):
        clock[0] += 1.0
        limiter.allows("route", f"address {number}")
    assert len(limiter._came) < 1000  # noqa: SLF001 - what it holds


def test_who_came_long_ago_takes_no_room_in_the_database(database: Database, clock: list[float]) -> None:
    """One comes each 10 s for an hour and is forgotten after 60 s: six or seven, and what a minute adds."""
    limiter = Limiter({"route": (3, 60.0)}, tries=SharedTries(database, lambda: clock[0]))
    for number in range(360):
        clock[0] += 10.0
        limiter.allows("route", f"address {number}")
    assert rows(database) < 20


def test_what_was_counted_by_a_clock_that_ran_ahead_keeps_nobody_out(database: Database) -> None:
    at = [90_000.0]
    tries = SharedTries(database, lambda: at[0])
    assert tries.count("route", "here", 1, 60.0)
    at[0] = 1000.0
    assert tries.count("route", "here", 1, 60.0)
    assert not tries.count("route", "here", 1, 60.0)


def test_processes_that_count_at_once_let_no_more_through_together(database: Database) -> None:
    """Ten limiters, as ten processes have, each asked eight times at once: what may pass are 30 of 80."""
    url = database.url.render_as_string(hide_password=False)
    several = [Database(url) for _ in range(10)]
    limiters = [Limiter({"route": (30, 300.0)}, tries=SharedTries(each)) for each in several]
    with ThreadPoolExecutor(10) as at_once:
        let = at_once.map(lambda limiter: [limiter.allows("route", "here") for _ in range(8)], limiters)
        assert sum(map(sum, let)) == 30
    for each in several:
        each.close()


def test_without_a_database_each_process_still_counts_for_itself(database: Database) -> None:
    limiter = Limiter({"route": (2, 300.0)}, tries=SharedTries(database))
    with database.alone() as connection:
        connection.execute(text("ALTER TABLE tries RENAME TO elsewhere"))
    try:
        assert [limiter.allows("route", "here") for _ in range(3)] == [True, True, False]
        limiter.takes_back("route", "here")
        assert limiter.allows("route", "here")
    finally:
        with database.alone() as connection:
            connection.execute(text("ALTER TABLE elsewhere RENAME TO tries"))
