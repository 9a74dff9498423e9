"""What a worker process does: claim a take, hear it, make its student's weeks, and again.

Conventions: a worker holds nothing that a kill could lose. It ends after the take in hand when its server is
gone or says so. Trouble of the disk or the database is nobody's fault: the take goes back untried, and the
worker waits a little longer each time.
"""

from __future__ import annotations

import multiprocessing
import time
from contextlib import closing, suppress
from datetime import datetime
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy.exc import InterfaceError, OperationalError

from evenhand.errors import CannotKeep
from evenhand.studio.school import School
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.queue import LOCKED_S, LOOKS_EVERY
from evenhand.studio.store.studio import Studio
from evenhand.studio.traces import traced
from evenhand.studio.values import StudioTake
from evenhand.studio.work.children import Hearing, begin_process
from evenhand.studio.work.pool import LONGEST_S, hear_one

if TYPE_CHECKING:
    from evenhand.studio.weeks.ahead import Ahead

NICE = 10  # the server goes first
FIRST_PAUSE_S, LONGEST_PAUSE_S = 1.0, 30.0  # where disk or database do not do their part; doubled each time
IDLE_S = 0.5  # until it looks again by itself, when nobody wakes it
IDLE_FAR_S = 5.0  # the same where a Postgres wakes it: what is left to find is due later, or of the dead
AWAY = (CannotKeep, OperationalError, InterfaceError)


def work(data: Path, backing: Backing, name: str, hearing: Hearing, place: int) -> None:
    """Work until the server is gone, or says that it is enough."""
    begin_process(NICE)
    _load()
    from evenhand.studio.weeks.ahead import (
        Ahead,  # it brings what draws, which the server's start need not wait for
    )

    with closing(School.open(data, backing)) as school:
        worker = _Worker(school, name, hearing, place, Ahead)
        while _server_lives() and not hearing.ends:
            worker.step()


class _Worker:
    """A worker at work, for every studio of its school."""

    def __init__(self, school: School, name: str, hearing: Hearing, place: int, ahead: type[Ahead]) -> None:
        self._school, self._name, self._make_ahead = school, name, ahead
        self._aheads: dict[str, Ahead] = {}
        self._hearing, self._place = hearing, place
        self._idle_s = IDLE_S if school.front.data.database.is_sqlite else IDLE_FAR_S
        self._last: Studio | None = None  # where it heard a take just now
        self._looks_at_s = 0.0
        self._pause_s = FIRST_PAUSE_S
        self._woken = False

    def step(self) -> None:
        """Do what there is to do, or wait for something to come."""
        try:
            if self._pause_s > FIRST_PAUSE_S:  # what it had in hand is its own, if that was not said
                self._school.give_back(self._name)
            if not self._hear() and not self._prepare():
                self._wait()
            self._pause_s = FIRST_PAUSE_S
        except AWAY:
            with suppress(Exception):
                self._school.give_back(self._name)
            time.sleep(self._pause_s)
            self._pause_s = min(2 * self._pause_s, LONGEST_PAUSE_S)

    def _hear(self) -> bool:
        """Hear the take whose turn it is, of all studios; False where none waits."""
        if time.monotonic() >= self._looks_at_s:
            self._looks_at_s = time.monotonic() + LOOKS_EVERY.total_seconds()
            self._school.rescue()
        due = self._school.hears_next()
        if due is None:
            first = [] if self._last is None else [self._last]  # it may have more versions to hear beside
            return any(self._hear_in(studio) for studio in chain(first, self._school.studios()))
        if self._hear_in(due):
            return True
        if self._school.is_one:
            return False
        time.sleep(LOCKED_S)  # another worker has that take by now; others may be due
        return True

    def _hear_in(self, studio: Studio) -> bool:
        """Hear a studio's take; where no job is due, one that a dead worker had, or a version beside."""
        began_s = time.monotonic()
        heard = _hear_next(studio, self._name)
        if heard is None:
            self._last = None
            return False
        self._last = studio
        took_s = time.monotonic() - began_s
        self._hearing.count(self._place, took_s)
        traced("hear a take", took_s, {"evenhand.source": heard.source})
        self._ahead(studio).add(heard.student_id)
        return True

    def _prepare(self) -> bool:
        """Make somebody's weeks; False where all are made."""
        now = datetime.now().astimezone()
        return any(self._ahead(studio).step(now) for studio in self._school.studios())

    def _ahead(self, studio: Studio) -> Ahead:
        if studio.id not in self._aheads:
            self._aheads[studio.id] = self._make_ahead(studio, self._name)
        return self._aheads[studio.id]

    def _wait(self) -> None:
        """Wait to be woken. Woken for nothing, it lets go of what else was called, and looks once more."""
        if self._woken:
            self._woken = False
            self._hearing.let_go()
        else:
            self._woken = self._hearing.wait(self._idle_s)


def _hear_next(studio: Studio, name: str) -> StudioTake | None:
    """Claim a take and hear it; None where none waits."""
    from evenhand.media.film.reader import FilmReader
    from evenhand.media.open_take import open_take

    take = studio.queue.claim(name)
    if take is not None:
        hear_one(studio, take, name, opens=open_take, films=FilmReader(), longest_s=LONGEST_S)
    return take


def _load() -> None:
    """Load what hearing needs before there is something to hear."""
    from evenhand.acts.takes import document as as_json  # noqa: F401 - loaded, not used here
    from evenhand.hearing import listen  # noqa: F401 - the same
    from evenhand.measuring.measure import measure  # noqa: F401 - the same
    from evenhand.media.decoder import DecoderEnded, shared_decoder

    with suppress(DecoderEnded, OSError):
        shared_decoder().start()


def _server_lives() -> bool:
    """Tell whether the process that started this one is there."""
    server = multiprocessing.parent_process()
    return server is None or server.is_alive()
