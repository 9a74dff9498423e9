"""Versions of what was heard of takes: kept beside the one that is shown, asked for, and exchanged with it.

Conventions: a take has one version that is shown, in its own row; any other is a row of ``hearings``, one for
each ear. One that is asked for waits there until a worker has nothing else to do (``queue.py``), and changes
nothing of what is shown. To exchange two versions is one step, and the same step leads back.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, delete, func, insert, or_, select, update

from evenhand.errors import NotFound, WrongOptions
from evenhand.studio.store.access import new_id
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import hearings, select_of, takes, value_by_id, values_in, values_of
from evenhand.studio.store.takes import take_in
from evenhand.studio.values import VERSION, HeardVersion, StudioTake, TakeStatus

AT_ONCE = 200  # rows asked for or written together


class Hearings:
    """The studio's versions of what was heard, but for those that are shown."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def ask(self, take_ids: Collection[str], ear: int) -> int:
        """Ask for heard takes to be heard by this ear, beside what is shown; tell of how many that is new.

        A take that this ear has heard, or was asked to hear, is left as it is.
        """
        asked = 0
        for some in _by_some(take_ids):
            with self._data.database.writing() as connection:
                there = select(hearings.c.take_id).where(hearings.c.ear == ear, hearings.c.take_id.in_(some))
                may = select(takes.c.id).where(takes.c.id.in_(some), takes.c.status == "heard")
                new = set(connection.scalars(may)) - set(connection.scalars(there))
                rows = [HeardVersion(new_id(), take_id, ear, "waiting", self._data.now()) for take_id in some]
                wanted = [values_of(row) for row in rows if row.take_id in new]
                if wanted:
                    connection.execute(insert(hearings), wanted)
                asked += len(wanted)
        return asked

    def take_back(self, ear: int) -> int:
        """Let go of what this ear was asked to hear and has not begun; tell how many takes that is."""
        waits = (hearings.c.ear == ear) & (hearings.c.status == "waiting")
        return self._data.execute(delete(hearings).where(waits))

    def counts(self, ear: int) -> dict[TakeStatus, int]:
        """Count what this ear was asked to hear and is not shown, by status."""
        query = select(hearings.c.status, func.count()).where(hearings.c.ear == ear)
        found: dict[TakeStatus, int] = {"waiting": 0, "hearing": 0, "heard": 0, "failed": 0}
        with self._data.database.reading() as connection:
            found.update((status, n) for status, n in connection.execute(query.group_by(hearings.c.status)))
        return found

    def finished(self, ear: int, since: datetime) -> list[tuple[str, datetime, float]]:
        """List which takes this ear was done with since a moment, when, and how long each is, s; in order."""
        query = (
            select(takes.c.id, hearings.c.heard_at, takes.c.seconds)
            .join(hearings, hearings.c.take_id == takes.c.id)
            .where(hearings.c.ear == ear, hearings.c.heard_at >= since)
            .order_by(hearings.c.heard_at)
        )
        with self._data.database.reading() as connection:
            return [(take_id, at, seconds or 0.0) for take_id, at, seconds in connection.execute(query)]

    def left_s(self, ear: int) -> float:
        """Add up how long the takes are that this ear is still to hear, seconds."""
        waits = (hearings.c.ear == ear) & hearings.c.status.in_(["waiting", "hearing"])
        query = (
            select(func.sum(takes.c.seconds)).join(hearings, hearings.c.take_id == takes.c.id).where(waits)
        )
        return float(self._data.scalar(query) or 0.0)

    def of_takes(self, take_ids: Collection[str], *, with_heard: bool = False) -> list[HeardVersion]:
        """List the versions of takes, the newest ear's first; what was heard only when asked for."""
        query = select_of(HeardVersion, without="" if with_heard else "heard").order_by(hearings.c.ear.desc())
        with self._data.database.reading() as connection:
            return [
                each
                for some in _by_some(take_ids)
                for each in values_in(connection, HeardVersion, query.where(hearings.c.take_id.in_(some)))
            ]

    def take_ids(self) -> list[str]:
        """List the takes that have another version, or wait for one; those recorded last first."""
        query = select(takes.c.id).where(takes.c.id.in_(select(hearings.c.take_id)))
        with self._data.database.reading() as connection:
            return list(connection.scalars(query.order_by(takes.c.recorded_at.desc(), takes.c.id)))

    def exchange(self, take_id: str, hearing_id: str, ear_in: Callable[[str], int]) -> StudioTake:
        """Let another version be the one that is shown; the one that was shown is kept in its place.

        ``ear_in`` tells which ear heard what is in a document.

        Raises
        ------
        NotFound
            There is no such take, or it has no such version that was heard.
        WrongOptions
            The take is being heard.
        """
        with self._data.database.alone() as connection:
            take, other = take_in(connection, take_id), value_by_id(connection, HeardVersion, hearing_id)
            if other is None or other.take_id != take_id or other.heard is None or other.status != "heard":
                raise NotFound(what="this version")
            if take.status != "heard" or take.heard is None:
                raise WrongOptions(got="a take that is being heard", must_be="one that was heard")
            now = self._data.now()
            kept = {"ear": ear_in(take.heard), "replaced_at": now, "heard_at": None, "reason": None}
            shown: dict[str, Any] = {"facts": {**take.facts, VERSION: now.isoformat()}, "reason": None}
            for name in ("heard", "seconds", "corrected"):
                kept[name], shown[name] = getattr(take, name), getattr(other, name)
            connection.execute(update(hearings).where(hearings.c.id == hearing_id).values(**kept))
            connection.execute(update(takes).where(takes.c.id == take_id).values(**shown))
            return take_in(connection, take_id)


@dataclass(frozen=True, slots=True)
class VersionQueue:
    """The queue's part of it: what waits is claimed and ended by the laws of the takes themselves.

    A worker that was silent for ``stale`` has died; what broke off ``most_tries`` times is given up.
    """

    data: StudioData
    stale: timedelta
    most_tries: int
    gave_up: str

    def claim(self, worker: str) -> StudioTake | None:
        """Give a worker the take that was asked for first, and to no other; None where none waits."""
        while True:
            with self.data.database.reading() as connection:
                if connection.execute(self._next()).first() is None:
                    return None
            with self.data.database.writing() as connection:
                query = self._next().with_for_update(of=hearings, skip_locked=True)
                row = connection.execute(query).first()
                if row is None:
                    return None
                changes: dict[str, Any] = {"status": "failed", "reason": self.gave_up, **_FREE}
                if row.tried < self.most_tries:
                    changes = {"status": "hearing", "tried": row.tried + 1, "progress": 0.0}
                    changes |= {"claimed_by": worker, "claimed_at": self.data.now()}
                connection.execute(update(hearings).where(hearings.c.id == row.id).values(**changes))
                if row.tried < self.most_tries:
                    return take_in(connection, row.take_id)

    def _next(self) -> Select[tuple[str, str, int]]:
        """Ask for what is to be heard next; not while the take itself is to be heard as something else."""
        now, at = self.data.now(), hearings.c.claimed_at
        lost = (at < now - self.stale) | (at > now + self.stale)  # by a clock ahead
        due = or_(hearings.c.status == "waiting", (hearings.c.status == "hearing") & lost)
        query = select(hearings.c.id, hearings.c.take_id, hearings.c.tried)
        query = query.join(takes, takes.c.id == hearings.c.take_id).where(due, takes.c.status == "heard")
        return query.order_by(hearings.c.asked_at, hearings.c.id).limit(1)

    def end(self, take_id: str, worker: str | None, **changes: Any) -> bool:  # noqa: ANN401 - any column
        """Write what becomes of what a worker has in hand; tell whether it is that worker's (still)."""
        mine = hearings.c.take_id == take_id
        return self._execute(mine & _held_by(worker), **changes) == 1

    def took_heard(self, take_id: str, worker: str | None, heard: str, seconds: float) -> bool:
        """Keep what was heard, beside what is shown; tell whether it was still wanted."""
        kept = {"heard": heard, "seconds": seconds, "heard_at": self.data.now(), "progress": 1.0}
        return self.end(take_id, worker, status="heard", reason=None, **kept, **_FREE)

    def took_failed(self, take_id: str, worker: str | None, reason: str) -> bool:
        """Keep why it cannot be heard; tell whether it was still wanted."""
        return self.end(take_id, worker, status="failed", reason=reason, heard_at=self.data.now(), **_FREE)

    def give_back(self, worker: str, *, blamed: bool) -> int:
        """Let what a worker has in hand wait again; ``blamed``: the try counts."""
        tried = hearings.c.tried if blamed else hearings.c.tried - 1
        return self._execute(_held_by(worker), status="waiting", progress=0.0, tried=tried, **_FREE)

    def go(self, connection: Connection, take: StudioTake) -> None:
        """Let go of a take's other versions, for it was heard anew as something else."""
        if connection.execute(delete(hearings).where(hearings.c.take_id == take.id)).rowcount:
            facts = {**take.facts, VERSION: self.data.now().isoformat()}
            connection.execute(update(takes).where(takes.c.id == take.id).values(facts=facts))

    def _execute(self, which: ColumnElement[bool], **changes: Any) -> int:  # noqa: ANN401 - any column
        return self.data.execute(update(hearings).where(which).values(**changes))


_FREE = {"claimed_by": None, "claimed_at": None}


def _held_by(worker: str | None) -> ColumnElement[bool]:
    """Name what a worker has in hand; without one, whatever is still to be heard."""
    if worker is None:
        return hearings.c.status.in_(["waiting", "hearing"])
    return (hearings.c.status == "hearing") & (hearings.c.claimed_by == worker)


def _by_some(take_ids: Collection[str]) -> Iterator[list[str]]:
    """Give ids in lists that a database takes."""
    every = list(take_ids)
    return (every[start : start + AT_ONCE] for start in range(0, len(every), AT_ONCE))
