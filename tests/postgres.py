"""A Postgres of the tests' own: made in a temporary folder, reached by a socket in it, gone at the end.

Its programs are looked for in EVENHAND_POSTGRES_BIN, on the PATH, and where Debian puts them;
without them there is none, and the Postgres half of the tests is skipped.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
from sqlalchemy import URL

USER = "postgres"  # who runs the server where the tests run as root: it refuses root
ROLE = "evenhand"  # whose the database is; a superuser would pass the walls between studios unseen
DEBIAN = Path("/usr/lib/postgresql")
SETTINGS = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off", "listen_addresses": "''"}


@dataclass(frozen=True)
class Server:
    """A server that runs."""

    folder: Path

    @property
    def url(self) -> URL:
        """Its one database's address, as a plain role's."""
        query = {"host": str(self.folder)}
        return URL.create("postgresql+psycopg", username=ROLE, database=ROLE, query=query)

    def make_role(self) -> None:
        """Make the plain role, and its database."""
        with psycopg.connect(host=str(self.folder), user=USER, dbname=USER, autocommit=True) as owner:
            owner.execute(f"CREATE ROLE {ROLE} LOGIN NOSUPERUSER NOBYPASSRLS")
            owner.execute(f"CREATE DATABASE {ROLE} OWNER {ROLE}")

    def end_connections(self) -> int:
        """End every connection of the plain role, as a lost network does; tell how many."""
        kill = "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE usename = %s"
        with psycopg.connect(host=str(self.folder), user=USER, dbname=USER, autocommit=True) as owner:
            return int((owner.execute(kill, [ROLE]).fetchone() or (0,))[0])

    @contextmanager
    def down(self) -> Iterator[None]:
        """Stop the server for a while; what was committed is there afterwards."""
        self.control("-m", "fast", "stop")
        try:
            yield
        finally:
            self.control("-w", "-l", str(self.folder / "log"), "-o", options_of(self.folder), "start")

    def control(self, *words: str) -> None:
        """Start or stop the server."""
        found = programs()
        assert found is not None
        _run(found / "pg_ctl", "-D", self.folder / "cluster", *words)


def options_of(folder: Path) -> str:
    """Say how the server is started."""
    return " ".join([f"-k {folder}", *(f"-c {name}={value}" for name, value in SETTINGS.items())])


def programs() -> Path | None:
    """Find the folder with Postgres' programs."""
    on_path = shutil.which("pg_ctl")
    places = [Path(os.environ.get("EVENHAND_POSTGRES_BIN", "nowhere")), *sorted(DEBIAN.glob("*/bin"))]
    places += [Path(on_path).resolve().parent] if on_path else []
    return next((place for place in reversed(places) if (place / "initdb").exists()), None)


@contextmanager
def running() -> Iterator[Server]:
    """Run a server for a while."""
    found = programs()
    if found is None:
        raise FileNotFoundError("Postgres' initdb and pg_ctl")
    folder = Path(tempfile.mkdtemp(prefix="evenhand-pg-"))
    if os.geteuid() == 0:
        shutil.chown(folder, USER)
    cluster = folder / "cluster"
    try:
        _run(
            found / "initdb",
            "-D",
            cluster,
            "-U",
            USER,
            "-A",
            "trust",
            "--no-sync",
            "-E",
            "UTF8",
            "--locale=C",
        )
        server = Server(folder)
        server.control("-w", "-l", str(folder / "log"), "-o", options_of(folder), "start")
        try:
            server.make_role()
            yield server
        finally:
            server.control("-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(*command: Path | str) -> None:
    """Run one of Postgres' programs, by its own user if we are root."""
    root = os.geteuid() == 0
    subprocess.run(
        [str(part) for part in command],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=Path(command[2]).parent,
        user=pwd.getpwnam(USER).pw_uid if root else None,
        group=pwd.getpwnam(USER).pw_gid if root else None,
    )
