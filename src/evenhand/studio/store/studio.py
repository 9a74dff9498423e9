"""A studio: one folder with its database (or the address of a Postgres) and its recordings.

Conventions: every act is one transaction and safe to call from any thread and any process. A
change names fields of the domain's value; what there is none of is refused. What is not there
raises NotFound when it was to be changed, and is None when it was asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryFile
from types import TracebackType
from typing import IO, TYPE_CHECKING, Any, Self

from argon2 import PasswordHasher
from sqlalchemy import URL, Connection, insert, inspect, select, update

from evenhand.errors import CannotKeep, StudioLost, StudioMissing, StudioThere
from evenhand.studio.safekeeping.backup import Backups
from evenhand.studio.safekeeping.check import Repairs
from evenhand.studio.store.access import Acts, Doors
from evenhand.studio.store.database import Database, upgrade
from evenhand.studio.store.kept import Clock, utc_now
from evenhand.studio.store.layout import DATABASE, DATABASE_FILES, RECORDINGS, close_to_others, make_own, told
from evenhand.studio.store.people import Assigned, Typed
from evenhand.studio.store.queue import Queue
from evenhand.studio.store.recordings import Recordings
from evenhand.studio.store.tables import check_fields, columns_of, studio, value_of, values_of
from evenhand.studio.values import StudioFacts

if TYPE_CHECKING:
    from evenhand.studio.safekeeping.backup import Restored


__all__ = ["DATABASE", "RECORDINGS", "Studio"]


class Studio(Acts, Doors, Assigned, Typed, Queue, Repairs, Backups):
    """A studio that is open. Close it at the end, or use it in a ``with``."""

    @classmethod
    def open(
        cls, data: Path, *, url: str | None = None, now: Clock = utc_now, hasher: PasswordHasher | None = None
    ) -> Self:
        """Open the studio in a folder, and bring its database to the newest form.

        Raises
        ------
        StudioMissing
            There is none.
        StudioLost
            There is none any more: recordings lie where it was.
        """
        if url is None and not (data / DATABASE).is_file():
            raise _missing(data)
        database = Database(url or _address(data))
        with _closed_by_an_error(database), database.alone() as connection:
            _check_studio(connection, data, there=True)
            upgrade(connection)
        opened = cls(database, Recordings(data / RECORDINGS), now=now, hasher=hasher)
        opened._recordings.make()
        close_to_others(data)
        with suppress(CannotKeep):  # it is finished when there is room again
            opened._finish_erasing()
        return opened

    @classmethod
    def create(
        cls,
        data: Path,
        *,
        name: str,
        password: str,
        demo: bool = False,
        url: str | None = None,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
        of_recordings: bool = False,
    ) -> Self:
        """Make a new, empty studio in a folder; ``of_recordings``: even where recordings lie, for those.

        Raises
        ------
        StudioThere
            There is one.
        StudioLost
            There was one: its recordings lie there.
        """
        recordings = Recordings(data / RECORDINGS)
        make_own(data)
        database = Database(url or _address(data))
        made = cls(database, recordings, now=now, hasher=hasher)
        facts = StudioFacts(name=name, demo=demo, created_at=now())
        row = {**values_of(facts), "id": 1, "password_hash": made._hasher.hash(password), "scrub_due": False}
        with _closed_by_an_error(database), database.alone() as connection:
            _check_studio(connection, data, there=False)
            if not of_recordings and _lies_there(data):
                raise _missing(data)
            upgrade(connection)
            connection.execute(insert(studio).values(**row))
        recordings.make()
        return made

    @staticmethod
    def set_database_aside(data: Path, *, now: Clock = utc_now) -> Path:
        """Move a folder's SQLite database out of the way, and say where it lies now."""
        place = Recordings(data / RECORDINGS).aside.room(now().date(), "damaged-database")
        for name in DATABASE_FILES:
            if (data / name).exists():
                (data / name).replace(place / name)
        return place

    def close(self) -> None:
        """Close the database."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def closed_by_an_error(self) -> Iterator[None]:
        """Close the studio if what is done with it first raises."""
        with _closed_by_an_error(self._database):
            yield

    @property
    def facts(self) -> StudioFacts:
        """What the studio is called, read fresh."""
        with self._database.reading() as connection:
            row = connection.execute(select(*columns_of(studio, StudioFacts))).mappings().one()
        return value_of(StudioFacts, row)

    def change_facts(self, **changes: Any) -> StudioFacts:  # noqa: ANN401 - any field
        """Change what the studio is called and how it keeps things."""
        check_fields(StudioFacts, changes, fixed=frozenset({"created_at"}))
        facts = replace(self.facts, **changes)
        if changes:
            with self._database.writing() as connection:
                connection.execute(update(studio).values(**changes))
        return facts

    def export_to(self, path: Path, *, progress: Callable[[float], None] | None = None) -> None:
        """Write the whole studio to one zip file; ``progress`` is told the share done."""
        from evenhand.studio.safekeeping.export import write_export

        write_export(path, self._database, self._recordings, now=self._now, progress=progress)

    @contextmanager
    def exported(self) -> Iterator[IO[bytes]]:
        """Lend the whole studio as an open export without a name: it goes with the block, or the process."""
        from evenhand.studio.safekeeping.export import write_export_into

        with TemporaryFile(dir=self._recordings.folder) as file, told(self._database.where):
            write_export_into(file, self._database, self._recordings, now=self._now)
            file.seek(0)
            yield file

    @classmethod
    def restore_from(
        cls, path: Path, data: Path, *, url: str | None = None, now: Clock = utc_now
    ) -> Restored:
        """Put a backup back, in the place of whatever studio is in a folder; that one is set aside.

        Raises
        ------
        BadExport
            The file is no whole backup.
        StudioOpen
            The studio that is there is open.
        """
        from evenhand.studio.safekeeping.backup import restore

        return restore(path, data, now=now, url=url)

    @classmethod
    def import_from(
        cls,
        path: Path,
        data: Path,
        *,
        url: str | None = None,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
    ) -> Self:
        """Make a studio of an export, equal to the one that was exported; all of it, or nothing.

        Raises
        ------
        BadExport
            The file is no whole export.
        StudioThere
            There is a studio already.
        """
        from evenhand.studio.safekeeping.importing import read_export

        read_export(path, data, url=url)
        return cls.open(data, url=url, now=now, hasher=hasher)


def _address(data: Path) -> URL:
    return URL.create("sqlite", database=str(data / DATABASE))


def _missing(data: Path) -> StudioLost | StudioMissing:
    """Say that there is no studio, or, where recordings lie, that it was lost."""
    lying = _lies_there(data)
    return StudioLost(where=str(data), recordings=lying) if lying else StudioMissing(where=str(data))


def _lies_there(data: Path) -> int:
    """Count the recordings that lie in a folder, those that were set aside too."""
    recordings = Recordings(data / RECORDINGS)
    return len({*recordings.kept_keys(), *(each.key for each in recordings.aside.walk())})


@contextmanager
def _closed_by_an_error(database: Database) -> Iterator[None]:
    """Close a database that turns out not to be ours to use."""
    try:
        yield
    except BaseException:
        database.close()
        raise


def _check_studio(connection: Connection, data: Path, *, there: bool) -> None:
    """Refuse a database that holds no studio though it should, or one though it should not."""
    found = inspect(connection).has_table(studio.name)
    found = found and connection.scalar(select(studio.c.id)) is not None
    if there and not found:
        raise _missing(data)
    if found and not there:
        raise StudioThere(where=str(data))
