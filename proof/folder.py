"""The small house: SQLite and a folder, one ``evenhand serve`` with its workers.

Conventions: see ``places.py``. The rows are read by the standard library's sqlite3, the recordings as
files: what is looked at at the end is not seen through the code under test.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import closing, suppress
from pathlib import Path

from evenhand.studio.store.studio import DATABASE, Studio
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
    kill_alone,
    kill_below,
    kill_whole,
    while_hearing,
)
from proof.wire import Wire

WITNESS = (
    "CREATE TABLE soak_written (take_id TEXT NOT NULL)",
    """CREATE TRIGGER soak_writes AFTER UPDATE OF heard ON takes BEGIN
       INSERT INTO soak_written VALUES (NEW.id); END""",
)


class FolderPlace:
    """One studio in a folder."""

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
        self._n, port = students, free_port()
        command = [sys.executable, "-m", "evenhand", "serve", "--data", str(self.data)]
        command += ["--port", str(port), "--workers", str(workers), *options]
        self.web = Part("the server", command, folder, ready=lambda: answers(port))
        if wired:
            self.web.with_own_clock()
        self.wire = Wire(HOST, port, seed=seed, cut_every=CUT_EVERY)
        self.address = f"http://{HOST}:{self.wire.port if wired else port}"
        self.invited: list[Invited] = []
        self.taught: dict[str, list[str]] = {}

    def start(self) -> None:
        """Make the studio with its students and the witness, and serve it."""
        self.disk.mount()
        with Studio.create(self.data, name="Studio Larkfield", password=PASSWORD, hasher=QUICK) as studio:
            self.invited += invite(studio, self._n)
        self.taught[""] = [each.student_id for each in self.invited]
        with closing(sqlite3.connect(self.data / DATABASE)) as database:
            for statement in WITNESS:
                database.execute(statement)
            database.commit()
        self.wire.start()
        self.web.start()

    @property
    def data(self) -> Path:
        """Where the studio lies."""
        return self.disk.place / "studio"

    def parts(self) -> list[Part]:
        """List what runs of the code under test."""
        return [self.web]

    def kills(self) -> Mapping[str, Act]:
        """Say what can be killed."""
        return {
            "a process of the server is killed": while_hearing(self, kill_below(self.web)),
            "the server is killed": while_hearing(self, kill_whole(self.web)),
            "the server is killed alone": kill_alone(self.web),
        }

    def troubles(self) -> Mapping[str, Act]:
        """Say what else can go wrong on this machine."""
        wires = [("devices and the server", self.wire)]
        return {"the network drops": drop(wires), **jump([self.web]), **fill({"the studio": self.disk})}

    def counts(self) -> Mapping[str, int] | None:
        """Count the takes of each status; None where that cannot be asked now."""
        with suppress(sqlite3.Error), self._reading() as database:
            return dict(database.execute("SELECT status, count(*) FROM takes GROUP BY status").fetchall())
        return None

    def calm(self) -> None:
        """Let nothing go wrong by itself any more."""
        self.wire.quiet()

    def settle(self) -> None:
        """Start all once more, so that what broke off is swept; then end in order."""
        self.web.stop()
        self.web.start()
        time.sleep(1.0)
        self.web.stop()

    def found(self) -> Found:
        """Look at what is there, after the studio's own check."""
        own_check = self._own_check()
        with self._reading() as database:
            rows = [Row(*each) for each in database.execute(ROWS)]
            asked = "SELECT take_id, count(*) FROM soak_written GROUP BY take_id"
            written = dict(database.execute(asked).fetchall())
        return Found(
            rows,
            written,
            kept_in(self.data / "recordings"),
            frozenset(each.stem.removeprefix("take-") for each in self.data.glob("labels/*/take-*.json")),
            count_of(self.data.glob("set-aside/*/??/*")),
            count_of(self.data.glob("recordings/unfinished/*")),
            own_check=own_check,
            more={"connections cut": self.wire.cuts, "starts of the server": self.web.starts},
        )

    def close(self) -> None:
        """End all, and give the disk back."""
        self.web.kill()
        self.wire.stop()
        self.disk.unmount()

    def _own_check(self) -> str:
        """Ask ``evenhand check --repair``, which makes takes of what has none; what it says if it had to."""
        command = [sys.executable, "-m", "evenhand", "check", "--repair", "--data", str(self.data)]
        done = subprocess.run(command, check=False, capture_output=True, text=True)
        return "" if done.returncode == 0 else done.stdout + done.stderr

    def _reading(self) -> closing[sqlite3.Connection]:
        return closing(sqlite3.connect(f"file:{self.data / DATABASE}?mode=ro", uri=True, timeout=5))
