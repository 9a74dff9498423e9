"""The school's house: Postgres that syncs, a store of objects, web processes and workers; wires between.

Conventions: see ``places.py``. The rows are read by the superuser past the wires, the objects by the store's
own client past them, too. A recording's key has its studio's id before it, as its object's name has.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path

import psycopg

from evenhand.cli.main import COMMANDS
from evenhand.studio.safekeeping.check import check_studio
from evenhand.studio.school import School
from evenhand.studio.store.layout import Backing
from proof.devices import Invited
from proof.judge import Found, Row
from proof.parts import Part
from proof.places import (
    CUT_EVERY,
    HOST,
    MB_EACH,
    MB_LEAST,
    PASSWORD,
    QUICK,
    Act,
    Killed,
    answers,
    drop,
    fill,
    free_port,
    invite,
    jump,
    kill_alone,
    kill_below,
    kill_whole,
    while_hearing,
)
from proof.postgres import Postgres
from proof.store import ObjectStore, set_keys
from proof.wire import Wire

TEACHERS = ("mara", "jonas", "edda")
DATABASE_MB = 700
DATABASE_CUT_EVERY = 8e6  # bytes on the wire to the database, about
ROWS = """SELECT id, student_id, upload_key, status, studio_id || '/recordings/' || recording,
          studio_id || '/recordings/' || original, tried FROM takes"""
CROSSED = """SELECT count(*) FROM takes WHERE NOT EXISTS (SELECT 1 FROM students
             WHERE students.id = takes.student_id AND students.studio_id = takes.studio_id)"""
JOBS = "SELECT count(*) FROM procrastinate_jobs WHERE status IN ('todo', 'doing')"
DEVICES, DATABASE, STORE = "devices and the server", "the app and Postgres", "the app and the store"


class SchoolPlace:
    """A school of three teachers."""

    def __init__(
        self,
        folder: Path,
        takes: int,
        students: int,
        *,
        seed: int,
        workers: int = 2,
        wired: bool = True,
        options: Sequence[str] = (),
    ) -> None:
        self._folder, self._n, port = folder, students, free_port()
        self.postgres = Postgres(folder, free_port(), DATABASE_MB)
        self.store = ObjectStore(folder, 3 * max(MB_LEAST, int(MB_EACH * takes)))
        self.wires = {
            DEVICES: Wire(HOST, port, seed=seed, cut_every=CUT_EVERY),
            DATABASE: Wire(HOST, self.postgres.port, seed=seed + 1, cut_every=DATABASE_CUT_EVERY),
            STORE: Wire(HOST, self.store.port, seed=seed + 2, cut_every=CUT_EVERY),
        }
        ways = [wire.port for wire in self.wires.values()]
        ways = ways if wired else [port, self.postgres.port, self.store.port]
        self.address = f"http://{HOST}:{ways[0]}"
        self._data = folder / "scratch"
        kept = ["--database", self.postgres.url(ways[1]), "--objects", self.store.address(ways[2])]
        self.web, *self.workers = self._parts(
            port, workers, [*kept, "--data", str(self._data)], options, wired=wired
        )
        self.invited: list[Invited] = []
        self.taught: dict[str, list[str]] = {}

    def _parts(
        self, port: int, workers: int, kept: list[str], options: Sequence[str], *, wired: bool
    ) -> list[Part]:
        """Say how the app runs: the server, and workers of their own where there is a command for them."""
        evenhand = [sys.executable, "-m", "evenhand"]
        apart = workers if "work" in COMMANDS else 0
        serve = [*evenhand, "serve", *kept, "--port", str(port), "--processes", "2", *options]
        serve += ["--workers", str(workers - apart)]
        work = [*evenhand, "work", *kept[:4], "--processes", "1"]
        env = self.store.environment
        parts = [Part("the server", serve, self._folder, env=env, ready=lambda: answers(port))]
        parts += [Part(f"worker {n + 1}", work, self._folder, env=env) for n in range(apart)]
        return [each.with_own_clock() if wired else each for each in parts]

    @property
    def backing(self) -> Backing:
        """What the school is kept in, past the wires; its first teacher's studio."""
        return replace(self._whole, studio_id=self._first)

    @property
    def _whole(self) -> Backing:
        """What the school is kept in, past the wires; all its studios."""
        address = self.store.address(self.store.port)
        return Backing(self.postgres.url(self.postgres.port), objects=address)

    _first: str | None = None

    @property
    def data(self) -> Path:
        """Where the app has its scratch."""
        return self._data

    def start(self) -> None:
        """Make the school with its students and the witness, and start all parts."""
        self.postgres.start()
        self.store.make()
        set_keys(self.store)
        with closing(School(self._data, self._whole, hasher=QUICK)) as school:
            school.bring_up_to_date(finish=True)
            made = [school.add(login, login.title(), PASSWORD) for login in TEACHERS]
            self._first = made[0].id
            for number, teacher in enumerate(made):
                n = len(range(number, self._n, len(made)))
                mine = invite(school.studio(teacher.id), n)
                self.taught[teacher.login or ""] = [each.student_id for each in mine]
                self.invited += mine
        self.postgres.watch()
        for wire in self.wires.values():
            wire.start()
        for part in self.parts():
            part.start()

    def parts(self) -> list[Part]:
        """List what runs of the code under test."""
        return [self.web, *self.workers]

    def kills(self) -> Mapping[str, Act]:
        """Say what can be killed."""
        apart: dict[str, Act] = {}
        if self.workers:
            apart["a worker is killed"] = while_hearing(self, kill_below(*self.workers))
            apart["a machine of workers is killed"] = while_hearing(self, kill_whole(*self.workers))
        return {
            "a process of the server is killed": while_hearing(self, kill_below(self.web)),
            "the server is killed": while_hearing(self, kill_whole(self.web)),
            "the server is killed alone": kill_alone(self.web),
            **apart,
            "Postgres is killed": while_hearing(self, kill_whole(self.postgres.part)),
            "the store is killed": while_hearing(self, kill_whole(self.store)),
        }

    def troubles(self) -> Mapping[str, Act]:
        """Say what else can go wrong on this machine."""
        disks = {"the store": self.store.disk, "Postgres": self.postgres.disk}
        return {
            "the network drops": drop(list(self.wires.items())),
            **jump(self.parts()),
            **fill(disks, (self.postgres.part, self.store)),
        }

    def counts(self) -> Mapping[str, int] | None:
        """Count the takes of each status; None where that cannot be asked now."""
        with suppress(psycopg.Error):
            return dict(self.postgres.asked("SELECT status, count(*) FROM takes GROUP BY status"))
        return None

    def calm(self) -> None:
        """Let nothing go wrong by itself any more."""
        for wire in self.wires.values():
            wire.quiet()

    def settle(self) -> None:
        """Start all once more, sweep as workers do once a day, and end in order."""
        for part in self.parts():
            part.stop()
        for part in self.parts():
            part.start()
        with closing(School(self._data, self._whole, hasher=QUICK)) as school:
            for studio in school.studios():
                studio.data.sweep()
        for part in self.parts():
            part.stop()

    def _kept(self) -> set[str]:
        """List the recordings that lie in the store, by studio and key."""
        return {name for name in self.store.names() if name.split("/")[1] == "recordings"}

    def found(self) -> Found:
        """Look at what is there, after the studios' own check."""
        own_check = self._own_check()
        names = list(self.store.names())
        labels = [Path(name).stem for name in names if "/labels/" in name]
        written = self.postgres.asked("SELECT take_id, count(*) FROM soak.written GROUP BY take_id")
        cuts = {f"connections cut between {name}": wire.cuts for name, wire in self.wires.items()}
        all_parts: list[Killed] = [*self.parts(), self.postgres.part, self.store]
        return Found(
            [Row(*each) for each in self.postgres.asked(ROWS)],
            dict(written),
            self.store.read(self._kept()),
            frozenset(each.removeprefix("take-") for each in labels if each.startswith("take-")),
            sum("/set-aside/" in name for name in names),
            sum("/incoming/" in name for name in names),
            jobs_left=int(self.postgres.asked(JOBS)[0][0]),
            crossed=int(self.postgres.asked(CROSSED)[0][0]),
            own_check=own_check,
            more={**cuts, **{f"starts of {part.name}": part.starts for part in all_parts}},
        )

    def _own_check(self) -> str:
        """Look through each studio as ``evenhand check`` does."""
        with closing(School(self._data, self._whole, hasher=QUICK)) as school:
            found = [check_studio(studio) for studio in school.studios()]
        return "\n".join(f"{each.unsound} {each.left}" for each in found if not each.is_well)

    def close(self) -> None:
        """End all, and give the disks back."""
        for part in self.parts():
            part.kill()
        for wire in self.wires.values():
            wire.stop()
        self.store.close()
        self.postgres.close()
