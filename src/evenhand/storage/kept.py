"""What every part of a studio leans on: its database, its recordings, the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime

from argon2 import PasswordHasher
from sqlalchemy import select

from evenhand.domain.studio import Student, StudioTake
from evenhand.storage.database import Database
from evenhand.storage.labels import Labels
from evenhand.storage.layout import LABELS
from evenhand.storage.quota import Quota, Used
from evenhand.storage.recordings import OLD_S, Recordings
from evenhand.storage.rows import columns_of, value_of
from evenhand.storage.tables import students, takes
from evenhand.storage.unkept import UnkeptSessions
from evenhand.storage.whole_file import sweep_parts

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
