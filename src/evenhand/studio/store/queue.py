"""The queue of takes to be heard. It is the takes' own rows: to be received is to be queued.

Conventions: a worker claims one take at a time, says now and then that it still hears it, and
writes what was heard in one step that only the claim's holder can take. So a worker may be killed
at any instant: its take goes back when its claim is stale, or at once when somebody saw it die.

In SQLite the rows alone are the queue. In a Postgres each row that waits has a job (``rows.jobs``), and
the job says whose turn it is; whoever fetches it must still find the row waiting.

What is only to be heard beside what is shown (``rows.versions``) is claimed when no take is due, and is
heard by the same workers in the same way: what becomes of it is written beside, and the take stays as it is.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, get_args

from sqlalchemy import ColumnElement, Connection, Row, func, select, update

from evenhand.studio.store.data import StudioData
from evenhand.studio.store.rows.jobs import Jobs, beat, finish, lost
from evenhand.studio.store.rows.versions import VersionQueue
from evenhand.studio.store.tables import select_of, takes, value_by_id
from evenhand.studio.store.takes import FREE, Content, Takes, take_in
from evenhand.studio.values import BEGINS_AT, StudioTake, TakeStatus, Urgency

STALE = timedelta(seconds=60)  # a worker that was silent for so long has died
MOST_TRIES = 3
FIRST_WAIT_S, EACH_TIMES = 2.0, 4  # what broke off is tried again after 2 s, then after 8 s
LOOKS_EVERY = timedelta(seconds=5)  # for workers that are silent
LOCKED_S = 0.02  # until a take is looked at again whose row somebody is changing
GAVE_UP = f"Hearing it broke off {MOST_TRIES} times. Have it heard again, or record it again."
_WAS = "was_"  # before a fact: what a take was heard as, while it is to be heard as something else
_ASKED = ("exercise", "tempo", "click", "stroke")
_WAITS: Mapping[str, Any] = {"status": "waiting", "progress": 0.0, **FREE}
URGENCIES: tuple[Urgency, ...] = get_args(Urgency)


class Queue:
    """The studio's takes as work to be done."""

    def __init__(self, data: StudioData, of: Takes) -> None:
        self._data, self._takes = data, of
        self._jobs = None if data.database.is_sqlite else Jobs()
        self._looked_at: datetime | None = None  # for silent workers
        self._beside = VersionQueue(data, STALE, MOST_TRIES, GAVE_UP)

    def claim(self, worker: str) -> StudioTake | None:
        """Give a worker the take whose turn it is, and to no other; None where nothing is due.

        A lesson's come before a student's, those before a batch's; among equals the one that came first.
        """
        return self._claim_take(worker) or self._beside.claim(worker)

    def _claim_take(self, worker: str) -> StudioTake | None:
        self._look()
        return self._claim_row(worker) if self._jobs is None else self._claim_job(self._jobs, worker)

    def _claim_row(self, worker: str) -> StudioTake | None:
        """Claim in SQLite, where one writes at a time."""
        while True:
            with self._data.database.reading() as connection:
                if self._next(connection) is None:
                    return None
            with self._data.database.writing() as connection:
                row = self._next(connection)
                if row is None:
                    return None
                if (take := self._taken(connection, row.id, row.tried, worker)) is not None:
                    return take

    def _claim_job(self, jobs: Jobs, worker: str) -> StudioTake | None:
        """Claim in a Postgres. A row that somebody else is changing is never waited for, job in hand."""
        while True:
            with self._data.database.writing() as connection:
                job = jobs.fetch(connection, worker)
                if job is None:
                    return None
                waits = select(takes.c.tried).where(takes.c.id == job.take_id, takes.c.status == "waiting")
                tried = connection.scalar(waits.with_for_update(skip_locked=True))
                if tried is not None:
                    if (take := self._taken(connection, job.take_id, tried, worker)) is not None:
                        return take
                    continue
                if connection.scalar(waits) is None:  # its row was changed by hand
                    finish(connection, job)
                    continue
                connection.rollback()
            time.sleep(LOCKED_S)

    def _look(self) -> None:
        """Look for takes that are lost, if that is due."""
        now = self._data.now()
        if self._looked_at is None or abs(now - self._looked_at) >= LOOKS_EVERY:
            self._looked_at = now
            self.rescue()

    def rescue(self) -> None:
        """Let the takes of workers that are silent wait again; what they cost counts as a try."""
        now, at = self._data.now(), takes.c.claimed_at
        mine = (takes.c.status == "hearing") & ((at < now - STALE) | (at > now + STALE))  # by a clock ahead
        with self._data.database.writing() as connection:
            if self._jobs is not None:
                mine = takes.c.id.in_(lost(connection, STALE)) & (takes.c.status == "hearing")
            connection.execute(update(takes).where(mine).values(**_WAITS))

    def hear_again(
        self,
        take_id: str,
        *,
        exercise: str,
        tempo: str,
        click: str,
        stroke: str | None = None,
        begins_at: str | None = None,
        urgency: Urgency = "student",
    ) -> None:
        """Let a take be heard again, as this exercise; what was heard stays until there is something new.

        ``begins_at`` is where the exercise begins, seconds; without it, that is left to the ear again.
        """
        with self._data.database.alone() as connection:
            take = take_in(connection, take_id)
            asked = {"exercise": exercise, "tempo": tempo, "click": click, "stroke": stroke}
            was = {_WAS + name: getattr(take, name) or "" for name in asked if take.heard is not None}
            said = {} if begins_at is None else {BEGINS_AT: begins_at}
            kept = {name: text for name, text in take.facts.items() if name != BEGINS_AT}
            facts = {**was, **kept, **said}  # what was heard is of what was asked for first
            changes: dict[str, Any] = {
                "status": "waiting",
                "tried": 0,
                "progress": 0.0,
                "reason": None,
                "set_aside_at": None,
                "urgency": urgency,
                "facts": facts,
                **asked,
            }
            connection.execute(update(takes).where(takes.c.id == take_id).values(**changes, **FREE))
            self._takes.label(replace(take, **changes))

    def still_hearing(self, take_id: str, worker: str, progress: float = 0.0) -> bool:
        """Renew a claim and say how much is done; False where the take is not this worker's any more."""
        changes = {"claimed_at": self._data.now(), "progress": progress}
        with self._data.database.writing() as connection:
            held = connection.execute(update(takes).where(_held(take_id, worker)).values(**changes)).rowcount
            if held and self._jobs is not None:
                beat(connection, take_id)
        return held == 1 or self._beside.end(take_id, worker, **changes)

    def give_back(self, worker: str, *, blamed: bool = False) -> int:
        """Let a worker's take wait again. ``blamed``: the worker died of it, maybe; the try counts."""
        mine = (takes.c.claimed_by == worker) & (takes.c.status == "hearing")
        with self._data.database.writing() as connection:
            rows = connection.execute(select(takes.c.id, takes.c.tried).where(mine).with_for_update()).all()
            for take_id, tried in rows:
                changes = self._later(tried) if blamed else {**_WAITS, "tried": tried - 1}
                connection.execute(update(takes).where(takes.c.id == take_id).values(**changes))
        return len(rows) + self._beside.give_back(worker, blamed=blamed)

    def _later(self, tried: int) -> dict[str, Any]:
        """Say what a take's row becomes that is tried again in a while."""
        wait = timedelta(seconds=FIRST_WAIT_S * EACH_TIMES ** (tried - 1))
        return {**_WAITS, "waits_until": (self._data.now() if self._jobs is None else func.now()) + wait}

    def took_heard(
        self,
        take_id: str,
        heard: str,
        seconds: float,
        *,
        worker: str | None = None,
        flac: Content | None = None,
        is_film: bool = False,
    ) -> bool:
        """Keep what was heard, and with it the recording as FLAC; tell whether it was still wanted.

        It is written once: a take that was heard, or erased, or claimed by another worker since, is
        left as it is. A film goes then, unless the studio keeps videos. With it go the take's other versions.
        """
        before = self._takes.find(take_id)
        if before is None:
            return False
        if before.status == "heard":
            return self._beside.took_heard(take_id, worker, heard, seconds)
        key = None if flac is None else self._takes.store_flac(before, flac)
        changes: dict[str, Any] = {
            "status": "heard",
            "heard": heard,
            "seconds": seconds,
            "reason": None,
            "corrected": False,
            "set_aside_at": None,
            "progress": 1.0,
            **FREE,
        }
        with self._data.database.alone() as connection:
            take = value_by_id(connection, StudioTake, take_id)
            if take is not None:
                changes["facts"] = _without_was(take.facts)
                if flac is not None and key is not None:
                    changes |= self._takes.with_flac(connection, take, key, flac, is_film=is_film)
                elif is_film:
                    changes |= self._takes.without_film(connection, take)
            held = update(takes).where(_held(take_id, worker))
            done = connection.execute(held.values(**changes)).rowcount == 1
            if done and take is not None:
                self._beside.go(connection, replace(take, facts=changes["facts"]))
        if take is None:  # erased meanwhile
            self._takes.forget(before, [] if key is None else [key])
        elif key is not None or is_film:
            self._data.drop_unnamed([key, take.recording, take.original])
        return done

    def took_failed(
        self, take_id: str, reason: str, *, worker: str | None = None, again: bool = False
    ) -> bool:
        """Keep why a take cannot be heard; tell whether it was still wanted.

        What was heard of it before stands again, as of the exercise that it was heard as. ``again``: it may
        be otherwise another time, so it is tried again in a while, ``MOST_TRIES`` times in all.
        """
        with self._data.database.alone() as connection:
            take = value_by_id(connection, StudioTake, take_id)
            if again and take is not None and take.tried < MOST_TRIES:
                changes = self._later(take.tried)
            else:
                changes = self._failed(take, reason)
            held = update(takes).where(_held(take_id, worker))
            done = connection.execute(held.values(**changes)).rowcount == 1
        return done or self._beside.took_failed(take_id, worker, reason)

    def set_aside(self) -> list[StudioTake]:
        """List the takes of which hearing was given up and nobody saw to that yet, the last first."""
        query = select_of(StudioTake, without="heard").where(takes.c.set_aside_at.is_not(None))
        return self._data.values(StudioTake, query.order_by(takes.c.set_aside_at.desc(), takes.c.id))

    def leave(self, take_ids: Collection[str]) -> int:
        """Leave takes as they are that were set aside; tell how many."""
        mine = takes.c.id.in_(take_ids) & takes.c.set_aside_at.is_not(None)
        return self._data.execute(update(takes).where(mine).values(set_aside_at=None))

    def counts(self) -> dict[TakeStatus, int]:
        """Count the takes of each status."""
        query = select(takes.c.status, func.count()).group_by(takes.c.status)
        found: dict[TakeStatus, int] = {"waiting": 0, "hearing": 0, "heard": 0, "failed": 0}
        with self._data.database.reading() as connection:
            found.update((status, n) for status, n in connection.execute(query))
        return found

    def _next(self, connection: Connection) -> Row[Any, Any] | None:
        """Ask SQLite for the take that is to be heard next."""
        now, moment = self._data.now(), takes.c.waits_until
        due = moment.is_(None) | (moment <= now) | (moment > now + STALE)
        query = select(takes.c.id, takes.c.tried).where(takes.c.status == "waiting", due)
        query = query.order_by(takes.c.received_at, takes.c.id).limit(1)
        for urgency in URGENCIES:
            if (row := connection.execute(query.where(takes.c.urgency == urgency)).first()) is not None:
                return row
        return None

    def _taken(self, connection: Connection, take_id: str, tried: int, worker: str) -> StudioTake | None:
        """Give a worker the take whose turn it is; None where it was tried often enough: it is set aside."""
        if tried < MOST_TRIES:
            return self._claimed(connection, take_id, worker)
        changes = self._failed(take_in(connection, take_id), GAVE_UP)
        connection.execute(update(takes).where(takes.c.id == take_id).values(**changes))
        return None

    def _claimed(self, connection: Connection, take_id: str, worker: str) -> StudioTake:
        """Write a worker's claim on a take, and give the take."""
        changes = {
            "status": "hearing",
            "tried": takes.c.tried + 1,
            "progress": 0.0,
            "claimed_by": worker,
            "claimed_at": self._data.now(),
            "waits_until": None,
        }
        connection.execute(update(takes).where(takes.c.id == take_id).values(**changes))
        return take_in(connection, take_id)

    def _failed(self, take: StudioTake | None, reason: str) -> dict[str, Any]:
        """Say what a take's row becomes that cannot be heard, or not again."""
        changes = {"reason": reason, "set_aside_at": self._data.now(), **FREE}
        if take is None or take.heard is None:
            return {"status": "failed", **changes}
        was: dict[str, Any] = {name: take.facts[_WAS + name] for name in _ASKED if _WAS + name in take.facts}
        if "stroke" in was:
            was["stroke"] = was["stroke"] or None
        return {"status": "heard", "progress": 1.0, "facts": _without_was(take.facts), **was, **changes}


def _without_was(facts: Mapping[str, str]) -> dict[str, str]:
    return {name: text for name, text in facts.items() if not name.startswith(_WAS)}


def _held(take_id: str, worker: str | None) -> ColumnElement[bool]:
    """Name a take that is still to be heard; where the worker is named, only if it holds it."""
    if worker is None:
        return (takes.c.id == take_id) & takes.c.status.in_(["waiting", "hearing"])
    return (takes.c.id == take_id) & (takes.c.status == "hearing") & (takes.c.claimed_by == worker)
