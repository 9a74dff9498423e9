"""What every part of a studio leans on: its database, its recordings, the clock.

Sessions that the disk cannot keep: they hold in this process, until it ends or the disk can again.

Conventions: as in the database, a secret is here only as its hash.

How much of recordings is kept: so much for a student, so much for the whole studio.

Conventions: bytes on the disk; a recording that two takes name is counted for each. It is looked at while
nobody else adds a take, so what comes at once cannot pass together.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from argon2 import PasswordHasher
from sqlalchemy import Connection, Select, select

from evenhand.errors import StudioFull
from evenhand.studio.store.database import Database
from evenhand.studio.store.labels import Labels
from evenhand.studio.store.layout import LABELS, sweep_parts
from evenhand.studio.store.recordings import OLD_S, Recordings
from evenhand.studio.store.tables import columns_of, students, takes, value_of
from evenhand.studio.values import OpenSession, Session, Student, StudioTake

MOST = 200  # of all; the oldest go


@dataclass(frozen=True, slots=True)
class _Unkept:
    session: Session
    listed: OpenSession


class UnkeptSessions:
    """The sessions that began while nothing could be written."""

    def __init__(self) -> None:
        self._found: dict[str, _Unkept] = {}
        self._lock = threading.Lock()

    def put(self, hashed: str, session: Session, listed: OpenSession) -> None:
        """Keep a session by its secret's hash."""
        with self._lock:
            while len(self._found) >= MOST:
                del self._found[next(iter(self._found))]
            self._found[hashed] = _Unkept(session, listed)

    def find(self, hashed: str) -> Session | None:
        """Find a session by its secret's hash; whether it still holds is asked elsewhere."""
        found = self._found.get(hashed)
        return None if found is None else found.session

    def listed(self) -> list[OpenSession]:
        """List who is in."""
        with self._lock:
            return [each.listed for each in self._found.values()]

    def end(self, hashed: str) -> None:
        """End a session by its secret's hash."""
        with self._lock:
            self._found.pop(hashed, None)

    def end_where(self, which: Callable[[Session], bool]) -> int:
        """End some sessions; tell how many."""
        with self._lock:
            over = [hashed for hashed, each in self._found.items() if which(each.session)]
            for hashed in over:
                del self._found[hashed]
        return len(over)


GB = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Quota:
    """The most bytes of recordings, for each student and for the studio."""

    student_bytes: int = 10 * GB  # some 6000 takes of 20 s as FLAC
    studio_bytes: int = 100 * GB


SizeOf = Callable[[str], int]


class Used:
    """What the studio's recordings take, counted once and added to: never too little, since they only shrink.

    Only where it would be too much is it counted anew.
    """

    def __init__(self) -> None:
        self._bytes: int | None = None

    def with_more(self, more: int, most: int, count: Callable[[], int]) -> int:
        """Return what is used with so much more."""
        if self._bytes is None or self._bytes + more > most:
            self._bytes = count()
        used = self._bytes + more
        if used <= most:
            self._bytes = used
        return used


def check_room(
    connection: Connection, quota: Quota, used: Used, student_id: str, coming: Iterable[str], size_of: SizeOf
) -> None:
    """Refuse recordings for which there is no room.

    Raises
    ------
    StudioFull
        The student's, or the studio's, share is used up.
    """
    more = sum(size_of(key) for key in coming)
    named = select(takes.c.recording, takes.c.original)
    mine = more + _sum(connection, named.where(takes.c.student_id == student_id), size_of)
    if mine > quota.student_bytes:
        raise StudioFull(
            whose="this student's recordings", got_gb=mine / GB, most_gb=quota.student_bytes / GB
        )
    all_of_it = used.with_more(more, quota.studio_bytes, lambda: _sum(connection, named, size_of))
    if all_of_it > quota.studio_bytes:
        raise StudioFull(
            whose="the studio's recordings", got_gb=all_of_it / GB, most_gb=quota.studio_bytes / GB
        )


def _sum(connection: Connection, query: Select[tuple[str | None, str | None]], size_of: SizeOf) -> int:
    return sum(size_of(key) for row in connection.execute(query) for key in row if key is not None)


_AT_ONCE = 500  # keys asked for together: a database has a limit

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """Read the clock."""
    return datetime.now(UTC)


class Kept:
    """A studio's database and recordings, for the parts that are made of them."""

    quota = Quota()

    def __init__(
        self,
        database: Database,
        recordings: Recordings,
        *,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
    ) -> None:
        self._database = database
        self._recordings = recordings
        self._labels = Labels(recordings.folder.parent / LABELS)
        self._unkept = UnkeptSessions()
        self._now = now
        self._hasher = hasher or PasswordHasher()
        self._used = Used()

    def sweep(self, older_than_s: float = OLD_S) -> int:
        """Set aside what no take names, take back what one does, and tell how many were swept.

        Removed are files that nobody finished, what was being deleted when something broke off, and
        what has been aside for a month.
        """
        swept = self._recordings.sweep_unfinished(older_than_s) + self._sweep_parts()
        self._finish_going()
        kept, named = set(self._recordings.kept_keys()), self._named_keys()
        for key in named - kept:
            self._recordings.bring_back(key)
        self._recordings.aside.sweep(self._now().date())
        self._label_all()
        return swept + self._without_take(kept - named, self._set_aside)

    def _sweep_parts(self) -> int:
        """Remove what a killed backup or restore left."""
        folder = self._recordings.folder
        return sweep_parts(folder) + sweep_parts(folder.parent)

    def _label_all(self) -> None:
        """Label what has no label yet: an older version, or an import, made none."""
        with self._database.reading() as connection:
            ids = connection.execute(select(takes.c.student_id, takes.c.id)).all()
            known = connection.execute(select(*columns_of(students, Student))).mappings().all()
        for student in known:
            if not self._labels.has_student(student["id"]):
                self._labels.write_student(value_of(Student, student), sync=False)
        bare = [take_id for student_id, take_id in ids if not self._labels.has_take(student_id, take_id)]
        for some in _by_some(bare):
            query = select(*columns_of(takes, StudioTake, without="heard")).where(takes.c.id.in_(some))
            with self._database.reading() as connection:
                found = connection.execute(query).mappings().all()
            for row in found:
                self._labels.write_take(value_of(StudioTake, row), sync=False)

    def _set_aside(self, key: str) -> None:
        self._recordings.set_aside(key, self._now().date())

    def _named_keys(self) -> set[str]:
        """List the recordings that takes name."""
        with self._database.reading() as connection:
            named = set(connection.scalars(select(takes.c.recording)))
            return {key for key in named | set(connection.scalars(select(takes.c.original))) if key}

    def _drop_unnamed(self, keys: Iterable[str | None]) -> int:
        """Remove those recordings that no take names (any more); tell how many."""
        return self._without_take(keys, self._recordings.remove)

    def _without_take(self, keys: Iterable[str | None], act: Callable[[str], None]) -> int:
        """Do something with those recordings that no take names (any more); tell with how many.

        It happens alone, as adding a take does: nobody can begin to name one meanwhile.
        """
        wanted = {key for key in keys if key is not None}
        if not wanted:
            return 0
        with self._database.alone() as connection:
            named = set[str]()
            for some in _by_some(sorted(wanted)):
                for column in (takes.c.recording, takes.c.original):
                    named |= set(connection.scalars(select(column).where(column.in_(some))))
            for key in wanted - named:
                act(key)
        return len(wanted - named)

    def _finish_going(self) -> None:
        """Do the rest of what was being deleted; what is there after all is not going any more."""
        for going in self._labels.all_going():
            table = students if going.is_student else takes
            with self._database.reading() as connection:
                there = connection.scalar(select(table.c.id).where(table.c.id == going.id)) is not None
            if not there:
                self._drop_unnamed(going.keys)
                self._labels.remove(going)
            going.place.unlink(missing_ok=True)


def _by_some(keys: list[str]) -> list[list[str]]:
    return [keys[start : start + _AT_ONCE] for start in range(0, len(keys), _AT_ONCE)]
