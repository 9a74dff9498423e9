"""A Postgres on loopback that syncs, and may be killed: on a disk of its own, with the witness in it.

Conventions: the app comes by TCP, as a plain role; the soak itself by the socket, as the superuser, so that
no policy hides a row from it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from contextlib import suppress
from pathlib import Path
from typing import Any

import psycopg

from proof.parts import Disk, Part
from tests.postgres import USER, programs

ROLE = "evenhand"
SETTINGS = ("fsync=on", "synchronous_commit=on", "full_page_writes=on", "max_connections=200")
WITNESS = """
CREATE SCHEMA soak;
CREATE TABLE soak.written (take_id text NOT NULL);
CREATE FUNCTION soak.note() RETURNS trigger SECURITY DEFINER LANGUAGE plpgsql AS $$
  BEGIN INSERT INTO soak.written VALUES (NEW.id); RETURN NULL; END $$;
CREATE TRIGGER soak_writes AFTER UPDATE OF heard ON takes FOR EACH ROW EXECUTE FUNCTION soak.note();
GRANT USAGE ON SCHEMA soak TO PUBLIC;
"""


class Postgres:
    """The server, and its one database."""

    def __init__(self, folder: Path, port: int, size_mb: int) -> None:
        self.disk, self._folder, self.port = Disk(folder / "database", size_mb), folder, port
        found = programs()
        if found is None:
            raise FileNotFoundError("Postgres' initdb and postgres")
        self._programs, self.cluster = found, self.disk.place / "cluster"
        command = [str(found / "postgres"), "-D", str(self.cluster), "-k", str(folder / "database")]
        for each in (f"port={port}", "listen_addresses=127.0.0.1", *SETTINGS):
            command += ["-c", each]
        self.part = Part("Postgres", command, folder, user=self._user, ready=self.answers)

    @property
    def _user(self) -> str | None:
        """Say who runs it: it refuses root."""
        return USER if os.geteuid() == 0 else None

    def start(self) -> None:
        """Make it, with a plain role and its database, and start it."""
        (self._folder / "database").mkdir()
        self.disk.mount()
        for place in (self._folder, self._folder / "database"):
            place.chmod(0o755)
        if self._user is not None:
            for place in (self._folder / "database", self.disk.place):
                shutil.chown(place, self._user)
        made = [str(self._programs / "initdb"), "-D", str(self.cluster), "-U", USER, "-A", "trust"]
        done = subprocess.run(
            [*made, "-E", "UTF8", "--locale=C"], check=False, capture_output=True, user=self._user, cwd="/"
        )
        if done.returncode:
            raise RuntimeError(done.stderr.decode(errors="replace"))
        self.part.start()
        with self.owner("postgres") as owner:
            owner.execute(f"CREATE ROLE {ROLE} LOGIN NOSUPERUSER NOBYPASSRLS")
            owner.execute(f"CREATE DATABASE {ROLE} OWNER {ROLE}")

    def answers(self) -> bool:
        """Tell whether it takes connections."""
        with suppress(psycopg.Error), self.owner("postgres"):
            return True
        return False

    def owner(self, database: str = ROLE) -> psycopg.Connection[Any]:
        """Connect as the superuser, past the wire."""
        place = str(self._folder / "database")
        return psycopg.connect(
            host=place, port=self.port, user=USER, dbname=database, autocommit=True, connect_timeout=5
        )

    def url(self, port: int) -> str:
        """Give the app's address, by a port of loopback."""
        return f"postgresql://{ROLE}@127.0.0.1:{port}/{ROLE}"

    def watch(self) -> None:
        """Put the witness in."""
        with self.owner() as owner:
            owner.execute(WITNESS)

    def asked(self, query: str) -> list[tuple[Any, ...]]:
        """Ask for rows."""
        with self.owner() as owner:
            return owner.execute(query.encode()).fetchall()

    def close(self) -> None:
        """End it, and give the disk back."""
        self.part.kill()
        self.disk.unmount()
