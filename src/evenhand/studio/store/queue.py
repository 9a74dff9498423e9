"""The queue of takes to be heard. It is the takes' own rows: to be received is to be queued.

Conventions: a worker claims one take at a time, says now and then that it still hears it, and
writes what was heard in one step that only the claim's holder can take. So a worker may be killed
at any instant: its take goes back when its claim is stale, or at once when somebody saw it die.

What is only to be heard beside what is shown (``store.rows.versions``) is claimed when no take is due, and is
heard by the same workers in the same way: what becomes of it is written beside, and the take stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, func, or_, select, update

from evenhand.studio.store.data import StudioData
from evenhand.studio.store.rows.versions import VersionQueue
from evenhand.studio.store.tables import takes, value_by_id
from evenhand.studio.store.takes import Content, Takes, take_in
from evenhand.studio.values import BEGINS_AT, StudioTake, TakeStatus

STALE = timedelta(seconds=60)  # a worker that was silent for so long has died
MOST_TRIES = 3
GAVE_UP = f"Hearing it broke off {MOST_TRIES} times. Have it heard again, or record it again."
_WAS = "was_"  # before a fact: what a take was heard as, while it is to be heard as something else
_ASKED = ("exercise", "tempo", "click", "stroke")
_FREE = {"claimed_by": None, "claimed_at": None}


class Queue:
    """The studio's takes as work to be done."""

    def __init__(self, data: StudioData, of: Takes) -> None:
        self._data, self._takes = data, of
        self._beside = VersionQueue(data, STALE, MOST_TRIES, GAVE_UP)

    def claim(self, worker: str) -> StudioTake | None:
        """Give a worker the take that has waited longest, and to no other; None where nothing waits."""
        return self._claim_take(worker) or self._beside.claim(worker)

    def _claim_take(self, worker: str) -> StudioTake | None:
        while True:
            with self._data.database.reading() as connection:
                if connection.execute(self._next()).first() is None:
                    return None
            with self._data.database.writing() as connection:
                row = connection.execute(self._next().with_for_update(skip_locked=True)).mappings().first()
                if row is None:
                    return None
                if row["tried"] < MOST_TRIES:
                    return self._claimed(connection, row["id"], worker)
                changes = _failed(take_in(connection, row["id"]), GAVE_UP)
                connection.execute(update(takes).where(takes.c.id == row["id"]).values(**changes))

    def hear_again(
        self,
        take_id: str,
        *,
        exercise: str,
        tempo: str,
        click: str,
        stroke: str | None = None,
        begins_at: str | None = None,
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
                "facts": facts,
                **asked,
            }
            connection.execute(update(takes).where(takes.c.id == take_id).values(**changes, **_FREE))
            self._takes.label(replace(take, **changes))

    def still_hearing(self, take_id: str, worker: str, progress: float = 0.0) -> bool:
        """Renew a claim and say how much is done; False where the take is not this worker's any more."""
        changes = {"claimed_at": self._data.now(), "progress": progress}
        held = self._data.execute(update(takes).where(_held(take_id, worker)).values(**changes)) == 1
        return held or self._beside.end(take_id, worker, **changes)

    def give_back(self, worker: str, *, blamed: bool = False) -> int:
        """Let a worker's take wait again. ``blamed``: the worker died of it, maybe; the try counts."""
        changes: dict[str, Any] = {"status": "waiting", "progress": 0.0, **_FREE}
        if not blamed:
            changes["tried"] = takes.c.tried - 1
        mine = (takes.c.claimed_by == worker) & (takes.c.status == "hearing")
        given = self._data.execute(update(takes).where(mine).values(**changes))
        return given + self._beside.give_back(worker, blamed=blamed)

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
            "progress": 1.0,
            **_FREE,
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

    def took_failed(self, take_id: str, reason: str, *, worker: str | None = None) -> bool:
        """Keep why a take cannot be heard; tell whether it was still wanted.

        What was heard of it before stands again, as of the exercise that it was heard as.
        """
        with self._data.database.alone() as connection:
            changes = _failed(value_by_id(connection, StudioTake, take_id), reason)
            held = update(takes).where(_held(take_id, worker))
            done = connection.execute(held.values(**changes)).rowcount == 1
        return done or self._beside.took_failed(take_id, worker, reason)

    def counts(self) -> dict[TakeStatus, int]:
        """Count the takes of each status."""
        query = select(takes.c.status, func.count()).group_by(takes.c.status)
        found: dict[TakeStatus, int] = {"waiting": 0, "hearing": 0, "heard": 0, "failed": 0}
        with self._data.database.reading() as connection:
            found.update((status, n) for status, n in connection.execute(query))
        return found

    def _next(self) -> Select[tuple[str, int]]:
        """Ask for the take that is to be heard next."""
        now = self._data.now()
        lost = (takes.c.claimed_at < now - STALE) | (takes.c.claimed_at > now + STALE)  # by a clock ahead
        stale = (takes.c.status == "hearing") & lost
        query = select(takes.c.id, takes.c.tried).where(or_(takes.c.status == "waiting", stale))
        return query.order_by(takes.c.received_at, takes.c.id).limit(1)

    def _claimed(self, connection: Connection, take_id: str, worker: str) -> StudioTake:
        """Write a worker's claim on a take, and give the take."""
        changes = {
            "status": "hearing",
            "tried": takes.c.tried + 1,
            "progress": 0.0,
            "claimed_by": worker,
            "claimed_at": self._data.now(),
        }
        connection.execute(update(takes).where(takes.c.id == take_id).values(**changes))
        return take_in(connection, take_id)


def _failed(take: StudioTake | None, reason: str) -> dict[str, Any]:
    """Say what a take's row becomes that cannot be heard, or not again."""
    if take is None or take.heard is None:
        return {"status": "failed", "reason": reason, **_FREE}
    was: dict[str, Any] = {name: take.facts[_WAS + name] for name in _ASKED if _WAS + name in take.facts}
    if "stroke" in was:
        was["stroke"] = was["stroke"] or None
    facts = _without_was(take.facts)
    return {"status": "heard", "reason": reason, "progress": 1.0, "facts": facts, **was, **_FREE}


def _without_was(facts: Mapping[str, str]) -> dict[str, str]:
    return {name: text for name, text in facts.items() if not name.startswith(_WAS)}


def _held(take_id: str, worker: str | None) -> ColumnElement[bool]:
    """Name a take that is still to be heard; where the worker is named, only if it holds it."""
    if worker is None:
        return (takes.c.id == take_id) & takes.c.status.in_(["waiting", "hearing"])
    return (takes.c.id == take_id) & (takes.c.status == "hearing") & (takes.c.claimed_by == worker)
