"""What every store of a studio works on: its database, its recordings and their labels, the clock.

How much of recordings is kept: so much for a student, so much for the whole studio.

Conventions: bytes on the disk; a recording that two takes name is counted for each. It is looked at while
nobody else adds a take, so what comes at once cannot pass together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Executable, Select, delete, select, update
from sqlalchemy.dialects import postgresql
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotKeep, StudioFull
from evenhand.studio.store.database import Database
from evenhand.studio.store.labels import Labels
from evenhand.studio.store.layout import sweep_parts
from evenhand.studio.store.places.files import Ticket
from evenhand.studio.store.recordings import OLD_S, Recordings, Sent
from evenhand.studio.store.school import used
from evenhand.studio.store.tables import Value, said, select_of, students, studio, takes, value_in, values_in
from evenhand.studio.values import Said, Student, StudioTake

GB = 1_000_000_000
NAMES = (takes.c.recording, takes.c.original, said.c.recording)  # every column that names a recording
MOST_WAITING_BYTES = 2 * GB  # of one student, sent by tickets and no take's yet
_TRIED_BYTES = 1 << 16
_AT_ONCE = 500  # keys asked for together: a database has a limit

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """Read the clock."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Quota:
    """The most bytes of recordings, for each student and for the studio."""

    student_bytes: int = 10 * GB  # some 6000 takes of 20 s as FLAC
    studio_bytes: int = 100 * GB


class StudioData:
    """A studio's database, recordings, labels and clock."""

    def __init__(self, database: Database, recordings: Recordings, now: Clock = utc_now) -> None:
        self.database, self.recordings, self.now = database, recordings, now
        self.labels = Labels(recordings.files)
        self.quota = Quota()
        self._used_bytes: int | None = None  # of a SQLite; a Postgres keeps it for all processes

    def values(self, kind: type[Value], query: Select[Any]) -> list[Value]:
        """List the values that are asked for."""
        with self.database.reading() as connection:
            return values_in(connection, kind, query)

    def value(self, kind: type[Value], query: Select[Any]) -> Value | None:
        """Return the first value that is asked for."""
        with self.database.reading() as connection:
            return value_in(connection, kind, query)

    def scalar(self, query: Select[Any]) -> Any:  # noqa: ANN401 - a column's value
        """Return the first column of the first row that is asked for."""
        with self.database.reading() as connection:
            return connection.scalar(query)

    def execute(self, statement: Executable) -> int:
        """Change rows in a transaction of its own; tell how many."""
        with self.database.writing() as connection:
            return connection.execute(statement).rowcount

    def lacks(self) -> list[str]:
        """Try what keeping a take needs, and name what does not do its part; nothing stays of it."""
        return [
            name for name, works in (("database", self._writes), ("recordings", self._keeps)) if not works()
        ]

    def _writes(self) -> bool:
        """Tell whether the database takes a change; this one changes nothing, and is taken back."""
        try:
            with self.database.writing() as connection:
                connection.execute(update(studio).values(id=studio.c.id))
                connection.rollback()
        except (CannotKeep, SQLAlchemyError):
            return False
        return True

    def _keeps(self) -> bool:
        """Tell whether the folder of recordings takes a file."""
        try:
            with self.recordings.unfinished() as place:
                place.write_bytes(b"\0" * _TRIED_BYTES)
        except (CannotKeep, OSError):
            return False
        return self.recordings.files.works()

    def sweep(self, older_than_s: float = OLD_S) -> int:
        """Set aside what no take names, take back what one does, and tell how many were swept.

        Removed are files that nobody finished, what was being deleted when something broke off, and
        what has been aside for a month.
        """
        swept = self.recordings.sweep_unfinished(older_than_s) + self.sweep_parts()
        self.finish_going()
        kept, named = set(self.recordings.kept_keys()), self.named_keys()
        for key in named - kept:
            self.recordings.bring_back(key)
        today = self.now().date()
        self.recordings.aside.sweep(today)
        self.label_all()
        return swept + self._without_take(kept - named, lambda key: self.recordings.set_aside(key, today))

    def sweep_parts(self) -> int:
        """Remove what a killed backup or restore left."""
        folder = self.recordings.folder
        return sweep_parts(folder) + sweep_parts(folder.parent)

    def label_all(self) -> None:
        """Label what has no label yet: an older version, or an import, made none."""
        spoken = self.values(Said, select_of(Said).where(said.c.recording.is_not(None)))
        for each in self.labels.lacking([*self.values(Student, select_of(Student)), *spoken]):
            if isinstance(each, Student):
                self.labels.write_student(each, sync=False)
            else:
                self.labels.write_said(each, sync=False)
        with self.database.reading() as connection:
            ids = [(row[0], row[1]) for row in connection.execute(select(takes.c.student_id, takes.c.id))]
        for some in _by_some(self.labels.lacking_takes(ids)):
            query = select_of(StudioTake, without="heard").where(takes.c.id.in_(some))
            for take in self.values(StudioTake, query):
                self.labels.write_take(take, sync=False)

    def named_keys(self) -> set[str]:
        """List the recordings that takes name."""
        with self.database.reading() as connection:
            return named_keys_in(connection)

    def drop_unnamed(self, keys: Iterable[str | None]) -> int:
        """Remove those recordings that no take names (any more); tell how many."""
        return self._without_take(keys, self.recordings.remove)

    def _without_take(self, keys: Iterable[str | None], act: Callable[[str], None]) -> int:
        """Do something with those recordings that no take names (any more); tell with how many.

        It happens alone, as adding a take does: nobody can begin to name one meanwhile.
        """
        wanted = {key for key in keys if key is not None}
        if not wanted:
            return 0
        with self.database.alone() as connection:
            named = set[str]()
            for some in _by_some(sorted(wanted)):
                for column in NAMES:
                    named |= set(connection.scalars(select(column).where(column.in_(some))))
            for key in wanted - named:
                act(key)
        return len(wanted - named)

    def finish_going(self) -> None:
        """Do the rest of what was being deleted; what is there after all is not going any more."""
        for going in self.labels.all_going():
            table = {"student": students, "take": takes, "said": said}[going.what]
            if self.scalar(select(table.c.id).where(table.c.id == going.id)) is None:
                self.drop_unnamed(going.keys)
                self.labels.remove(going)
            self.labels.stays(going)

    def check_room(self, connection: Connection, student_id: str, coming: Iterable[str]) -> None:
        """Refuse recordings for which there is no room.

        Raises
        ------
        StudioFull
            The student's, or the studio's, share is used up.
        """
        more = sum(map(self.recordings.size_of, coming))
        mine = more + self._bytes_of(connection, student_id)
        _check_share("this student's recordings", mine, self.quota.student_bytes)
        used_bytes = self._used(connection)
        if used_bytes is None or used_bytes + more > self.quota.studio_bytes:
            used_bytes = self._bytes_of(connection)
        _check_share("the studio's recordings", used_bytes + more, self.quota.studio_bytes)
        self._note_used(connection, used_bytes + more)

    def ticket(self, sent: Sent, n_bytes: int) -> Ticket | None:
        """Let a student send a recording past us, where there is room for it beside what waits already.

        Raises
        ------
        StudioFull
            The student's share is used up, or so much was sent and never kept.
        """
        waiting = n_bytes + self.recordings.waiting_bytes(sent.student_id)
        _check_share("what a student sent and no take has", waiting, MOST_WAITING_BYTES)
        with self.database.reading() as connection:
            mine = waiting + self._bytes_of(connection, sent.student_id)
        _check_share("this student's recordings", mine, self.quota.student_bytes)
        return self.recordings.ticket(sent, n_bytes)

    def count_anew(self) -> None:
        """Let what is kept be counted at the next recording: rows may have come by another way."""
        self._used_bytes = None
        if not self.database.is_sqlite:
            self.execute(delete(used).where(used.c.studio == self.database.studio_id))

    def _used(self, connection: Connection) -> int | None:
        """Return what was counted once and added to since: recordings only shrink otherwise."""
        if self.database.is_sqlite:
            return self._used_bytes
        return connection.scalar(select(used.c.bytes).where(used.c.studio == self.database.studio_id))

    def _note_used(self, connection: Connection, n_bytes: int) -> None:
        """Keep the sum for all processes; whoever adds a recording is alone."""
        self._used_bytes = n_bytes
        if not self.database.is_sqlite:
            row = postgresql.insert(used).values(studio=self.database.studio_id, bytes=n_bytes)
            connection.execute(row.on_conflict_do_update(index_elements=["studio"], set_={"bytes": n_bytes}))

    def _bytes_of(self, connection: Connection, student_id: str | None = None) -> int:
        return sum(map(self.recordings.size_of, keys_in(connection, student_id)))


def _check_share(whose: str, got: int, most: int) -> None:
    if got > most:
        raise StudioFull(whose=whose, got_gb=got / GB, most_gb=most / GB)


def named_keys_in(connection: Connection) -> set[str]:
    """List the recordings that a database's rows name."""
    return set(keys_in(connection))


def keys_in(connection: Connection, student_id: str | None = None) -> list[str]:
    """List each recording that rows name, of all or of one student, as often as one names it."""
    queries = [select(column).where(column.is_not(None)) for column in NAMES]
    if student_id is not None:
        queries = [
            query.where(column.table.c.student_id == student_id)
            for query, column in zip(queries, NAMES, strict=True)
        ]
    return [key for query in queries for key in connection.scalars(query)]


def _by_some(keys: list[str]) -> list[list[str]]:
    return [keys[start : start + _AT_ONCE] for start in range(0, len(keys), _AT_ONCE)]
