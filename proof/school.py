"""The school's house: Postgres that syncs, web processes, workers; wires that break between all of them.

Conventions: see ``places.py``. The rows are read by the superuser past the wires, the recordings where the
store keeps them.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

import psycopg

from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from proof.devices import Invited
from proof.judge import Found, Row
from proof.parts import Disk, Part
from proof.places import (
    CUT_EVERY,
    HOST,
    MB_EACH,
    MB_LEAST,
    PASSWORD,
    QUICK,
    ROWS,
    Act,
    answers,
    count_of,
    drop,
    fill,
    free_port,
    invite,
    jump,
    kept_in,
    kill_below,
    kill_whole,
)
from proof.postgres import Postgres
from proof.wire import Wire

DATABASE_MB = 700
DATABASE_CUT_EVERY = 8e6  # bytes on the wire to the database, about


class SchoolPlace:
    """A school on a Postgres."""

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
        self.disk = Disk(folder, max(MB_LEAST, int(MB_EACH * takes)))
        self.data = self.disk.place / "school"
        self._n, port, database_port = students, free_port(), free_port()
        self.postgres = Postgres(folder, database_port, DATABASE_MB)
        self.wires = {
            "devices and the server": Wire(HOST, port, seed=seed, cut_every=CUT_EVERY),
            "the server and Postgres": Wire(HOST, database_port, seed=seed + 1, cut_every=DATABASE_CUT_EVERY),
        }
        ways = [wire.port for wire in self.wires.values()] if wired else [port, database_port]
        self.address, self._url = f"http://{HOST}:{ways[0]}", self.postgres.url(ways[1])
        command = [sys.executable, "-m", "evenhand", "serve", "--data", str(self.data)]
        command += [
            "--database",
            self._url,
            "--port",
            str(port),
            "--processes",
            "2",
            "--workers",
            str(workers),
            *options,
        ]
        self.web = Part("the server", command, folder, ready=lambda: answers(port)).with_own_clock()
        self.invited: list[Invited] = []

    def start(self) -> None:
        """Make the school with its students and the witness, and serve it."""
        self.disk.mount()
        self.postgres.start()
        direct = Backing(self.postgres.url(self.postgres.port))
        with Studio.create(
            self.data, name="School of Larkfield", password=PASSWORD, hasher=QUICK, backing=direct
        ) as studio:
            self.invited += invite(studio, self._n)
        self.postgres.watch()
        for wire in self.wires.values():
            wire.start()
        self.web.start()

    def parts(self) -> list[Part]:
        """List what runs of the code under test."""
        return [self.web]

    def kills(self) -> Mapping[str, Act]:
        """Say what can be killed."""
        return {
            "a worker is killed": kill_below(self.web),
            "the server is killed": kill_whole(self.web),
            "Postgres is killed": kill_whole(self.postgres.part, alone_too=False),
        }

    def troubles(self) -> Mapping[str, Act]:
        """Say what else can go wrong on this machine."""
        disks = [("the recordings", self.disk), ("Postgres", self.postgres.disk)]
        return {
            "the network drops": drop(list(self.wires.items())),
            **jump([self.web]),
            **fill(disks, {"Postgres": self.postgres.part}),
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
        """Start all once more, so that what broke off is swept; then end in order."""
        self.web.stop()
        self.web.start()
        time.sleep(1.0)
        self.web.stop()

    def found(self) -> Found:
        """Look at what is there, after the studio's own check."""
        rows = [Row(*each) for each in self.postgres.asked(ROWS)]
        written = self.postgres.asked("SELECT take_id, count(*) FROM soak.written GROUP BY take_id")
        cuts = {f"connections cut between {name}": wire.cuts for name, wire in self.wires.items()}
        starts = {f"starts of {part.name}": part.starts for part in (self.web, self.postgres.part)}
        return Found(
            rows,
            dict(written),
            kept_in(self.data / "recordings"),
            frozenset(each.stem.removeprefix("take-") for each in self.data.glob("labels/*/take-*.json")),
            count_of(self.data.glob("set-aside/*/??/*")),
            count_of(self.data.glob("recordings/unfinished/*")),
            more={**cuts, **starts},
        )

    def close(self) -> None:
        """End all, and give the disks back."""
        self.web.kill()
        for wire in self.wires.values():
            wire.stop()
        self.postgres.close()
        self.disk.unmount()
