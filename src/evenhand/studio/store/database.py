"""The database behind a studio: SQLite in its folder, or Postgres by address.

Conventions: ``reading`` sees one moment and holds nobody up; ``writing`` commits at its end or leaves
nothing; ``alone`` is a writing that no other one of its kind overlaps, in any process: what adds a
take and what removes recordings meet there. ``changing`` is one that no other of its kind overlaps in all of
the database. In a Postgres each of them begins by saying whose studio it is of.

SQLite runs with a write-ahead log and full syncs: what was committed survives a power cut. Deleted
content is overwritten (``secure_delete``).

Bring a database to the newest form; Alembic is loaded only where there is something to do.

All rows of one database into another, of whichever kind each is.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import (
    URL,
    Connection,
    Engine,
    ExceptionContext,
    create_engine,
    event,
    insert,
    inspect,
    make_url,
    select,
    text,
)

from evenhand.errors import DatabaseAway, WrongOptions
from evenhand.studio.store.layout import FIRST, trouble_of
from evenhand.studio.store.rows.jobs import check
from evenhand.studio.store.school import (
    build_walls,
    enter,
    hold_walls,
    open_walls,
    studio_ids,
    take_walls_down,
    teachers,
    walls_stand,
)
from evenhand.studio.store.tables import columns_of, metadata

if TYPE_CHECKING:
    from alembic.config import Config


WAITS_S = 30.0  # for another's write
NOTICES_S = 0.5  # until who waits for a notice looks whether to end
SCRUB_WAITS_S = 10.0  # then the cleaning is left for the next time the studio is opened
ALONE_KEY = 0x45_76_65_6E  # Postgres' lock of this studio
_PRAGMAS = (
    f"busy_timeout = {int(WAITS_S * 1000)}",
    "journal_mode = WAL",
    "synchronous = FULL",
    "foreign_keys = ON",
    "secure_delete = ON",
)


class Database:
    """An engine, and the ways to use it; of a Postgres, the rows of one studio."""

    def __init__(self, url: str | URL, studio_id: str | None = None) -> None:
        self.url = _spelled(make_url(url))
        self.is_sqlite = self.url.get_backend_name() == "sqlite"
        self._all = _sqlite(self.url) if self.is_sqlite else _shared(self.url)
        self._be_of(studio_id)

    def _be_of(self, studio_id: str | None) -> None:
        """Let every transaction from now on be of one studio (None: of the first, or of none yet)."""
        self.studio_id = FIRST if self.is_sqlite else studio_id
        self._engine = self._all.execution_options(studio_id=studio_id)
        self._writing = self._engine.execution_options(writes=True)

    def enter(self, connection: Connection, studio_id: str) -> None:
        """Be of a studio from here on, in this transaction and in all that come."""
        self._be_of(studio_id)
        if not self.is_sqlite:
            enter(connection, studio_id)

    @property
    def where(self) -> str:
        """Name the place for people: SQLite's folder, or the Postgres."""
        return _place_of(self.url)

    def reading(self) -> AbstractContextManager[Connection]:
        """Look at one moment of the database."""
        return self._engine.begin()

    def writing(self) -> AbstractContextManager[Connection]:
        """Write, all or nothing."""
        return self._writing.begin()

    @contextmanager
    def alone(self) -> Iterator[Connection]:
        """Write while nobody else of this studio is alone. SQLite lets one writer in at a time anyway."""
        with self.writing() as connection:
            if not self.is_sqlite:
                self.hold(connection, self.studio_id or "")
            yield connection

    def hold(self, connection: Connection, *studio_ids: str) -> None:
        """Be alone in some studios of a Postgres until the transaction ends; all take them in one order."""
        for studio_id in sorted(studio_ids):
            of = {"key": ALONE_KEY, "studio_id": studio_id}
            connection.execute(text("SELECT pg_advisory_xact_lock(:key, hashtext(:studio_id))"), of)

    @contextmanager
    def changing(self, *, copies_tables: bool = False) -> Iterator[Connection]:
        """Change the form of the database, or which studios it holds, while nobody else does.

        ``copies_tables``: as SQLite changes some. Were its references looked at meanwhile, all that leans on
        a table would go with the old copy.
        """
        with self._writing.connect() as connection:
            _look_at_references(connection, look=not copies_tables)
            try:
                with connection.begin():
                    if not self.is_sqlite:
                        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ALONE_KEY})
                    yield connection
            finally:
                _look_at_references(connection, look=True)

    @contextmanager
    def by_itself(self) -> Iterator[Connection]:
        """Run a single statement, committed by itself: one that is of no studio's rows."""
        with self._all.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            yield connection

    def copy_to(self, place: Path) -> None:
        """Write SQLite's rows of one moment to a new file, while who reads and writes goes on."""
        raw = self._engine.raw_connection()
        try:
            with closing(sqlite3.connect(place)) as copy:
                cast("sqlite3.Connection", raw.driver_connection).backup(copy)
        finally:
            raw.close()

    def of_one_moment(self) -> AbstractContextManager[Connection]:
        """Look at one moment of the database, however many queries that takes."""
        if self.is_sqlite:
            return self.reading()
        return self._engine.execution_options(isolation_level="REPEATABLE READ").begin()

    def notices(self, channel: str, ends: Callable[[], bool]) -> Iterator[str]:
        """Give what a Postgres tells on a channel, as it comes, until it should end; one connection's."""
        with self._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            driver = cast("Any", connection.connection.driver_connection)
            driver.execute(f'LISTEN "{channel}"'.encode())
            while not ends():
                for notice in driver.notifies(timeout=NOTICES_S, stop_after=1):
                    yield notice.payload

    def scrub(self) -> bool:
        """Leave no trace of what was deleted in the files; tell whether all of it could be reached.

        In Postgres the tables are written anew; the server's own log and backups are its owner's.
        """
        return self._scrub_sqlite() if self.is_sqlite else self._scrub_postgres()

    def faults(self) -> str:
        """Look through the whole database for damage, and say the first; "" where there is none.

        SQLite's own checks do it; a Postgres is its owner's to check.
        """
        if not self.is_sqlite:
            return ""
        with self.reading() as connection:
            found = str(connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar())
            loose = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
        if found != "ok":
            return found.splitlines()[-1]
        return "" if loose is None else f"a row of {loose[0]} belongs to nobody"

    def close(self) -> None:
        """Close all connections, but for those that another studio's need."""
        if self.is_sqlite or _let_go(self.url):
            self._all.dispose()

    def _scrub_sqlite(self) -> bool:
        """Write the file anew and empty its log; who reads or writes meanwhile is waited for."""
        raw = self._engine.raw_connection()
        try:
            cursor = raw.cursor()
            cursor.execute(f"PRAGMA busy_timeout = {int(SCRUB_WAITS_S * 1000)}")
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            answer = cursor.fetchone()  # was it kept from it, frames in the log, frames moved
            return answer is not None and answer[0] == 0
        except sqlite3.OperationalError:  # locked all the time
            return False
        finally:
            raw.invalidate()  # with its short patience it is of no use to others
            raw.close()

    def _scrub_postgres(self) -> bool:
        with self._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            for table in metadata.sorted_tables:
                connection.exec_driver_sql(f"VACUUM FULL {table.name}")
        return True


def _spelled(url: URL) -> URL:
    """Spell a Postgres address so that psycopg 3 is the driver."""
    if url.drivername in {"postgres", "postgresql"}:
        return url.set(drivername="postgresql+psycopg")
    return url


def _place_of(url: URL) -> str:
    if url.get_backend_name() == "sqlite":
        return str(Path(url.database or "").parent)
    return f"the Postgres {url.database or ''!r}"


def _tell_trouble(engine: Engine, where: str) -> None:
    """Let trouble of the disk, or a Postgres that is away, leave as our own error."""

    @event.listens_for(engine, "handle_error")
    def say(context: ExceptionContext) -> None:
        error = context.original_exception
        if context.is_pre_ping:  # it is only asked whether a kept connection still holds
            return
        trouble, is_postgres = trouble_of(error, where), not isinstance(error, sqlite3.Error)
        if trouble is None and is_postgres and (context.connection is None or context.is_disconnect):
            trouble = DatabaseAway(where=where, got=" ".join(str(error).split())[:200])
        if trouble is not None:
            raise trouble from context.original_exception


def _look_at_references(connection: Connection, *, look: bool) -> None:
    """Let SQLite look at references or not; it can be said outside of a transaction only."""
    if connection.dialect.name == "sqlite":
        raw = cast("sqlite3.Connection", connection.connection.driver_connection)
        raw.execute(f"PRAGMA foreign_keys = {'ON' if look else 'OFF'}")


_SHARED: dict[URL, tuple[Engine, int]] = {}  # by address, with how many use it: a school's studios share one
_SHARING = Lock()


def _shared(url: URL) -> Engine:
    """Give the engine of a Postgres, to all who use it in this process."""
    with _SHARING:
        engine, users = _SHARED.get(url) or (_postgres(url), 0)
        _SHARED[url] = engine, users + 1
    return engine


def _let_go(url: URL) -> bool:
    """Count one user less; tell whether that was the last."""
    with _SHARING:
        engine, users = _SHARED.pop(url, (None, 0))
        if engine is not None and users > 1:
            _SHARED[url] = engine, users - 1
    return users <= 1


def _postgres(url: URL) -> Engine:
    """Make an engine whose transactions begin by saying whose they are."""
    engine = create_engine(url, pool_size=10, max_overflow=30, pool_pre_ping=True)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        studio_id = connection.get_execution_options().get("studio_id")
        if studio_id is not None:
            enter(connection, studio_id)

    _tell_trouble(engine, _place_of(url))
    return engine


def _sqlite(url: URL) -> Engine:
    """Make an engine whose transactions begin where ours do, and with the lock that they need."""
    engine = create_engine(url, pool_size=10, max_overflow=30, connect_args={"timeout": WAITS_S})

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:  # noqa: ANN401 - the driver's connection
        connection.isolation_level = None  # else the driver begins by itself, and too late
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    _tell_trouble(engine, _place_of(url))
    return engine


NEWEST = "0017"
_WALLS_FROM = "0013"
_STEPS = Path(__file__).with_name("migrations")


def revision_of(connection: Connection) -> str | None:
    """Tell which form a database has; None: none of ours."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def upgrade(connection: Connection, *, walls: bool = True) -> None:
    """Take every step that is missing, inside the connection's transaction.

    Without ``walls`` an older Evenhand goes on with what there is; they are built another time.

    Raises
    ------
    WrongOptions
        A newer Evenhand wrote this database, or its queue is not of the form that this one knows.
    """
    found = revision_of(connection)
    if found == NEWEST:
        if connection.dialect.name == "postgresql":
            check(connection)
        return
    if found is not None and found not in _known():
        raise WrongOptions(
            got=f"a studio of a newer Evenhand (form {found})",
            must_be=f"form {NEWEST} or older: update Evenhand",
        )
    from alembic import command

    has_walls = connection.dialect.name != "sqlite" and walls_stand(connection)
    if has_walls:
        open_walls(connection)
    command.upgrade(settings(connection), "head")
    if has_walls or (walls and connection.dialect.name != "sqlite"):
        build_walls(connection)


def downgrade(connection: Connection, to: str = "base") -> None:
    """Go back to an older form; ``base`` is none at all."""
    from alembic import command

    if connection.dialect.name != "sqlite" and (to == "base" or to < _WALLS_FROM):
        take_walls_down(connection)
    command.downgrade(settings(connection), to)


def settings(connection: Connection | None = None) -> Config:
    """Give Alembic's settings: where the steps are, and the connection."""
    from alembic.config import Config

    found = Config()
    found.set_main_option("script_location", str(_STEPS).replace("%", "%%"))
    found.attributes["connection"] = connection
    return found


def _known() -> set[str]:
    """List the forms that this version knows."""
    from alembic.script import ScriptDirectory

    return {step.revision for step in ScriptDirectory.from_config(settings()).walk_revisions()}


def begin_studio(database: Database, connection: Connection, **teacher: object) -> None:
    """Bring a database to the newest form, and go on as a studio that is new in it, a teacher's."""
    upgrade(connection)
    studio_id = database.studio_id or FIRST
    if not database.is_sqlite:
        if studio_ids(connection):
            hold_walls(connection)
        row = {"name": "", "administrator": False, **teacher, "id": studio_id}
        connection.execute(insert(teachers).values(**row))
    database.enter(connection, studio_id)


_AT_ONCE = 200  # rows inserted together


def copy_rows(source: Database, target: Database) -> None:
    """Copy the rows of one moment to a database that holds none: all of them, or none."""
    with source.of_one_moment() as reading, target.changing() as writing:
        begin_studio(target, writing)
        for table in metadata.sorted_tables:  # parents first
            query = select(*columns_of(table))
            found = reading.execution_options(yield_per=_AT_ONCE).execute(query).mappings()
            for some in found.partitions():
                writing.execute(insert(table), [dict(row) for row in some])
