"""Lose a school, and have it back as it was at a given moment. ``python -m proof.drill``.

A Postgres that keeps its log, a studio in it, a base backup by ``deploy/school-backup``; more takes come.
Then an accident: takes are deleted by hand, and their recordings swept. ``deploy/school-restore`` makes a new
cluster of the moment before, and the recordings are brought back. And a studio of one machine: ``evenhand
backup``, the folder is lost, ``evenhand restore``, ``evenhand check``.

Conventions: what was there is compared row by row, all tables, and recording by recording, by its hash.
Settings: ``DRILL_TAKES`` (usual 40). It ends with 1 where anything is lost.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import psycopg
from sqlalchemy import select

from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata
from tests.postgres import ROLE, USER, programs
from tests.studios import QUICK, a_new_take

DEPLOY = Path(__file__).parents[1] / "deploy"
PASSWORD = "a drill, and nobody's"  # noqa: S105 - invented
Rows = Mapping[str, set[str]]


@dataclass(frozen=True, slots=True)
class Lost:
    """What a drill counted. Rows and recordings that differ from what was there before the accident."""

    name: str
    takes: int
    rows: int
    recordings: int

    @property
    def is_well(self) -> bool:
        """Tell whether all is back."""
        return self.takes > 0 and self.rows == self.recordings == 0


@dataclass(frozen=True, slots=True)
class Cluster:
    """A Postgres in a folder, reached by a socket there; it keeps its log in ``kept``/log."""

    folder: Path
    place: Path
    kept: Path

    @property
    def backing(self) -> Backing:
        """Where a studio in it is."""
        return Backing(f"postgresql://{ROLE}@/{ROLE}?host={self.folder}")

    def run(self, *command: Path | str) -> str:
        """Run a program as Postgres' own user; give what it says."""
        found = programs()
        path = f"{found}:{os.environ['PATH']}"
        own = pwd.getpwnam(USER) if os.geteuid() == 0 else None
        done = subprocess.run(
            [str(each) for each in command],
            check=False,
            capture_output=True,
            text=True,
            cwd=self.folder,
            env={**os.environ, "PATH": path, "PGHOST": str(self.folder), "PGUSER": USER},
            user=None if own is None else own.pw_uid,
            group=None if own is None else own.pw_gid,
        )
        if done.returncode:
            raise RuntimeError(f"{command[0]} ends with {done.returncode}: {done.stdout}{done.stderr}")
        return done.stdout.strip()

    @contextmanager
    def running(self) -> Iterator[None]:
        """Run it; in the end it falls, as a machine does."""
        log = self.kept / "log"
        archive = f"test ! -f {log}/%f && cp %p {log}/.%f && mv {log}/.%f {log}/%f"
        settings = {"archive_mode": "on", "archive_command": archive, "listen_addresses": ""}
        options = " ".join(f"-c {name}='{value}'" for name, value in settings.items())
        at = ("-D", self.place, "-l", self.folder / "postgres.log")
        self.run("pg_ctl", *at, "-w", "-t", "90", "-o", f"-k {self.folder} {options}", "start")
        try:
            yield
        finally:
            self.run("pg_ctl", *at, "-w", "-m", "immediate", "stop")

    def asked(self, query: str, database: str = ROLE) -> Any:  # noqa: ANN401 - a value of the database
        """Do something as the superuser; give the first value."""
        with psycopg.connect(host=str(self.folder), user=USER, dbname=database, autocommit=True) as owner:
            found = owner.execute(query.encode())
            row = found.fetchone() if found.description else None
            return row[0] if row else None


def rows_of(studio: Studio) -> Rows:
    """Return all that a studio's tables hold, but for who is in."""
    passing = {"sessions", "known_devices"}
    with studio.data.database.of_one_moment() as connection:
        return {
            table.name: {repr(tuple(row)) for row in connection.execute(select(table))}
            for table in metadata.sorted_tables
            if table.name not in passing
        }


def play(studio: Studio, takes: int, first: int = 0) -> None:
    """Let a student's takes come."""
    students = studio.students.all()
    student = students[0] if students else studio.students.add("June Abara")  # invented
    for number in range(first, first + takes):
        content = b"RIFF\0\0\0\0WAVE" + number.to_bytes(4) * 500
        studio.takes.receive(a_new_take(student.id, f"key-{number}"), content)


def lost(name: str, before: Rows, studio: Studio) -> Lost:
    """Compare what is there with what was."""
    now = rows_of(studio)
    rows = sum(len(before[table] ^ now[table]) for table in before)
    every = studio.takes.all()
    bad = sum(not studio.data.recordings.is_sound(take.recording or "") for take in every)
    return Lost(name, len(every), rows, bad)


def school_drill(folder: Path, takes: int) -> Lost:
    """Bring a school back to a moment."""
    kept = folder / "kept"
    (kept / "log").mkdir(parents=True)
    cluster = Cluster(folder, folder / "cluster", kept)
    if os.geteuid() == 0:
        for each in (folder, kept, kept / "log"):
            shutil.chown(each, USER)
    folder.chmod(0o755)
    cluster.run("initdb", "-D", cluster.place, "-U", USER, "-A", "trust", "-E", "UTF8", "--locale=C")
    with cluster.running():
        cluster.asked(f"CREATE ROLE {ROLE} LOGIN NOSUPERUSER NOBYPASSRLS", "postgres")
        cluster.asked(f"CREATE DATABASE {ROLE} OWNER {ROLE}", "postgres")
        with Studio.create(
            folder / "data", name="Drill", password=PASSWORD, backing=cluster.backing, hasher=QUICK
        ) as studio:
            play(studio, takes)
            base = Path(cluster.run(DEPLOY / "school-backup", kept))
            play(studio, takes, first=takes)
            before = rows_of(studio)
            moment: datetime = cluster.asked("SELECT clock_timestamp()")
            cluster.asked("DELETE FROM takes")
            play(studio, 1, first=2 * takes)
            studio.data.sweep()
        cluster.asked("SELECT pg_switch_wal()")
        newest = cluster.asked("SELECT pg_walfile_name(pg_current_wal_lsn() - 1)")
        _wait_for(cluster, newest)
    again = Cluster(folder, folder / "again", kept)
    again.run(DEPLOY / "school-restore", base, kept / "log", again.place, moment.isoformat())
    with again.running():
        _wait_until_promoted(again)
        with Studio.open(folder / "data", backing=again.backing, hasher=QUICK) as studio:
            studio.data.sweep()
            return lost("a school, to the moment before takes were deleted", before, studio)


def _wait_for(cluster: Cluster, newest: str) -> None:
    """Wait until the log is kept up to here."""
    _until(cluster, f"SELECT last_archived_wal >= '{newest}' FROM pg_stat_archiver")  # noqa: S608 - our own word


def _wait_until_promoted(cluster: Cluster) -> None:
    _until(cluster, "SELECT NOT pg_is_in_recovery()")


def _until(cluster: Cluster, query: str) -> None:
    end_s = time.monotonic() + 90
    while not cluster.asked(query):
        if time.monotonic() > end_s:
            raise RuntimeError(f"after 90 s still not so: {query}")
        time.sleep(0.1)


def machine_drill(folder: Path, takes: int) -> Lost:
    """Bring back a studio of one machine, by the commands."""
    data, kept = folder / "studio", folder / "kept.zip"
    with Studio.create(data, name="Drill", password=PASSWORD, hasher=QUICK) as studio:
        play(studio, takes)
        before = rows_of(studio)
    evenhand = (sys.executable, "-m", "evenhand")
    for command in (("backup", "--out", kept), ("restore", kept), ("check",)):
        if command[0] == "restore":
            shutil.rmtree(data)
        told = [str(each) for each in (*evenhand, *command, "--data", data)]
        done = subprocess.run(told, check=False, capture_output=True, text=True)
        if done.returncode:
            raise RuntimeError(
                f"evenhand {command[0]} ends with {done.returncode}: {done.stdout}{done.stderr}"
            )
    with Studio.open(data, hasher=QUICK) as studio:
        return lost("one machine, its folder lost", before, studio)


def main() -> int:
    """Do both, and print what came back."""
    takes = int(os.environ.get("DRILL_TAKES", "40"))
    with tempfile.TemporaryDirectory(prefix="evenhand-drill-") as place:
        drills = []
        for each in (school_drill, machine_drill):
            (folder := Path(place) / each.__name__).mkdir()
            Path(place).chmod(0o755)
            drills.append(each(folder, takes))
    print("| what was lost | takes back | rows that differ | recordings that differ |\n|---|---|---|---|")
    for drill in drills:
        print(f"| {drill.name} | {drill.takes} | {drill.rows} | {drill.recordings} |")
    return 0 if all(drill.is_well for drill in drills) else 1


if __name__ == "__main__":
    sys.exit(main())
