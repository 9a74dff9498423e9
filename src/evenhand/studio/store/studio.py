"""A studio: one folder with its database (or the address of a Postgres) and its recordings.

Conventions: every act is one transaction and safe to call from any thread and any process. A
change names fields of the domain's value; what there is none of is refused. What is not there
raises NotFound when it was to be changed or must be there (``get``), and is None when it was looked for
(``find``).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from argon2 import PasswordHasher
from sqlalchemy import URL, Connection, insert, update

from evenhand.errors import CannotKeep, StoreAway, StudioLost, StudioMissing, StudioThere, WrongOptions
from evenhand.studio.store.access import Access
from evenhand.studio.store.acts import ActLog
from evenhand.studio.store.book import BookShelf
from evenhand.studio.store.data import Clock, StudioData, utc_now
from evenhand.studio.store.database import Database, begin_studio, upgrade
from evenhand.studio.store.layout import (
    DATABASE,
    DATABASE_FILES,
    FIRST,
    FOLDER_ALONE,
    RECORDINGS,
    Backing,
    close_to_others,
    folder_of,
    make_own,
)
from evenhand.studio.store.lessons import Lessons
from evenhand.studio.store.people import Students
from evenhand.studio.store.queue import Queue
from evenhand.studio.store.recordings import Recordings
from evenhand.studio.store.rows.versions import Hearings
from evenhand.studio.store.school import hold_walls, studio_ids
from evenhand.studio.store.tables import check_fields, select_of, studio, values_in, values_of
from evenhand.studio.store.takes import Takes
from evenhand.studio.store.threads import Threads
from evenhand.studio.store.weeks import Made, Weeks
from evenhand.studio.values import StudioFacts

__all__ = ["DATABASE", "RECORDINGS", "Studio"]


class Studio:
    """A studio that is open, made of its stores. Close it at the end, or use it in a ``with``."""

    def __init__(self, data: StudioData, hasher: PasswordHasher) -> None:
        self.data = data
        self.log = ActLog(data)
        self.access = Access(data, hasher)
        self.students = Students(data)
        self.weeks = Weeks(data)
        self.book = BookShelf(data)
        self.lessons = Lessons(data)
        self.takes = Takes(data)
        self.threads = Threads(data)
        self.queue = Queue(data, self.takes)
        self.hearings = Hearings(data)
        self.made = Made(data)

    @classmethod
    def open(
        cls,
        data: Path,
        *,
        backing: Backing = FOLDER_ALONE,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
    ) -> Self:
        """Open the studio in a folder, and bring its database to the newest form.

        Raises
        ------
        StudioMissing
            There is none.
        StudioLost
            There is none any more: recordings lie where it was.
        """
        if backing.url is None and not (data / DATABASE).is_file():
            raise _missing(data, backing)
        database = Database(backing.url or _address(data), backing.studio_id)
        with _closed_by_an_error(database), database.changing(copies_tables=True) as connection:
            there = studio_ids(connection)
            studio_id = _one_of(there, data, backing)
            if len(there) > 1:
                hold_walls(connection)
            upgrade(connection)
            database.enter(connection, studio_id)
            recordings = recordings_in(data, backing, studio_id)
        opened = cls(StudioData(database, recordings, now), hasher or PasswordHasher())
        opened.data.recordings.make()
        close_to_others(data)
        with suppress(CannotKeep):  # it is finished when there is room again
            opened.students.finish_erasing()
        return opened

    @classmethod
    def create(  # noqa: PLR0913 - what a studio is made of, each by its name
        cls,
        data: Path,
        *,
        name: str,
        password: str,
        demo: bool = False,
        backing: Backing = FOLDER_ALONE,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
        of_recordings: bool = False,
        teacher: Mapping[str, object] | None = None,
    ) -> Self:
        """Make a new, empty studio in a folder; ``of_recordings``: even where recordings lie, for those.

        ``teacher`` is what a school's list says of whose it is (``school.teachers``).

        Raises
        ------
        StudioThere
            There is one.
        StudioLost
            There was one: its recordings lie there.
        """
        hasher = hasher or PasswordHasher()
        make_own(data)
        database = Database(backing.url or _address(data), backing.studio_id)
        facts = StudioFacts(name=name, demo=demo, created_at=now())
        row = {**values_of(facts), "id": 1, "password_hash": hasher.hash(password), "scrub_due": False}
        with _closed_by_an_error(database), database.changing() as connection:
            if holds_a_studio(connection, backing.studio_id):
                raise StudioThere(where=str(data))
            recordings = recordings_in(data, backing, backing.studio_id or FIRST)
            if not of_recordings and recordings.all_keys():
                raise _missing(data, backing)
            begin_studio(database, connection, **teacher or {})
            connection.execute(insert(studio).values(**row))
        recordings.make()
        return cls(StudioData(database, recordings, now), hasher)

    @property
    def id(self) -> str:
        """Say which studio of its database it is."""
        return self.data.database.studio_id or FIRST

    def close(self) -> None:
        """Close the database, and what recordings lie in."""
        self.data.recordings.files.close()
        self.data.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def closed_by_an_error(self) -> Iterator[None]:
        """Close the studio if what is done with it first raises."""
        with _closed_by_an_error(self.data.database):
            yield

    @property
    def facts(self) -> StudioFacts:
        """What the studio is called, read fresh."""
        with self.data.database.reading() as connection:
            (found,) = values_in(connection, StudioFacts, select_of(StudioFacts))
        return found

    def change_facts(self, **changes: Any) -> StudioFacts:  # noqa: ANN401 - any field
        """Change what the studio is called and how it keeps things."""
        check_fields(StudioFacts, changes, fixed=frozenset({"created_at", "feed_made_at"}))
        facts = replace(self.facts, **changes)
        if changes:
            self.data.execute(update(studio).values(**changes))
        return facts


def set_database_aside(data: Path, *, now: Clock = utc_now) -> Path:
    """Move a folder's SQLite database out of the way, and say where it lies now."""
    place = Recordings(data / RECORDINGS).aside.room(now().date(), "damaged-database")
    for name in DATABASE_FILES:
        if (data / name).exists():
            (data / name).replace(place / name)
    return place


def _address(data: Path) -> URL:
    return URL.create("sqlite", database=str(data / DATABASE))


def recordings_in(data: Path, backing: Backing, studio_id: str) -> Recordings:
    """Give a studio's recordings: in its folder, or in a store of objects.

    A store that does not answer may answer soon: a worker that begins meanwhile waits for it.

    Raises
    ------
    StoreAway
        The store refuses.
    """
    folder = folder_of(data, studio_id) / RECORDINGS
    if backing.objects is None:
        return Recordings(folder)
    from evenhand.studio.store.places.address import ObjectsAddress
    from evenhand.studio.store.places.bucket import BucketFiles

    files = BucketFiles(ObjectsAddress.read(backing.objects), studio_id, folder)
    try:
        files.check()
    except StoreAway as away:
        if not away.may_pass:
            raise
    return Recordings(folder, files)


def _missing(data: Path, backing: Backing) -> StudioLost | StudioMissing:
    """Say that there is no studio, or, where recordings lie, that it was lost."""
    lying = len(recordings_in(data, backing, backing.studio_id or FIRST).all_keys())
    return StudioLost(where=str(data), recordings=lying) if lying else StudioMissing(where=str(data))


@contextmanager
def _closed_by_an_error(database: Database) -> Iterator[None]:
    """Close a database that turns out not to be ours to use."""
    try:
        yield
    except BaseException:
        database.close()
        raise


def _one_of(there: Sequence[str], data: Path, backing: Backing) -> str:
    """Choose the studio that is meant among those that are there."""
    if backing.studio_id in there or (len(there) == 1 and backing.studio_id is None):
        return backing.studio_id or there[0]
    if not there:
        raise _missing(data, backing)
    got = f"a database of {len(there)} studios, and " + ("another one" if backing.studio_id else "none named")
    raise WrongOptions(got=got, must_be="the id of one of them")


def holds_a_studio(connection: Connection, studio_id: str | None = None) -> bool:
    """Tell whether a database holds a studio: this one, or any."""
    there = studio_ids(connection)
    return bool(there) if studio_id is None else studio_id in there
