"""The small house: SQLite and a folder, one ``evenhand serve`` with its workers; what can go wrong there.

Conventions: see ``soak.py``. The rows are read by the standard library's sqlite3, the recordings as files, so
that what is looked at at the end is not seen through the code under test.
"""

from __future__ import annotations

import random
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Mapping
from contextlib import closing, suppress
from pathlib import Path

from argon2 import PasswordHasher

from evenhand.studio.store.studio import DATABASE, Studio
from evenhand.web.serving import LINK_LASTS
from proof.devices import Invited
from proof.judge import Found, Row
from proof.parts import CLOCK_LIBRARY, Disk, Part, descendants, kill
from proof.wire import Wire

HOST, PASSWORD = "127.0.0.1", "rim and shoulder"
MB_EACH, MB_LEAST = 1.2, 160
JUMPS_S = (-86_400, -3600, -90, 90, 3600, 2 * 86_400)
CUT_EVERY = 60e6  # bytes on a wire, about
WITNESS = (
    "CREATE TABLE soak_written (take_id TEXT NOT NULL)",
    """CREATE TRIGGER soak_writes AFTER UPDATE OF heard ON takes BEGIN
       INSERT INTO soak_written VALUES (NEW.id); END""",
)
Act = Callable[[random.Random], str]


def free_port() -> int:
    """Find a port that nobody uses."""
    with socket.create_server((HOST, 0)) as found:
        return int(found.getsockname()[1])


def answers(port: int) -> bool:
    """Tell whether a studio says that it is there."""
    with suppress(OSError), urllib.request.urlopen(f"http://{HOST}:{port}/health", timeout=5) as answer:
        return bool(answer.status == 200)
    return False


class FolderPlace:
    """One studio in a folder."""

    def __init__(self, folder: Path, takes: int, students: int, *, seed: int, workers: int = 2) -> None:
        self.disk = Disk(folder, max(MB_LEAST, int(MB_EACH * takes)))
        self.data = self.disk.place / "studio"
        self._n = students
        port = free_port()
        command = [sys.executable, "-m", "evenhand", "serve", "--data", str(self.data)]
        command += ["--port", str(port), "--workers", str(workers)]
        self.web = Part("web", command, folder, ready=lambda: answers(port)).with_own_clock()
        self.wire = Wire(HOST, port, seed=seed, cut_every=CUT_EVERY)
        self.address = f"http://{HOST}:{self.wire.port}"
        self.invited: list[Invited] = []

    def start(self) -> None:
        """Make the studio with its students and the witness, and serve it."""
        self.disk.mount()
        quick = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        with Studio.create(self.data, name="Studio Larkfield", password=PASSWORD, hasher=quick) as studio:
            for number in range(self._n):
                student = studio.students.add(f"Student {number}")
                secret, _ = studio.access.make_link(student.id, lasts=LINK_LASTS)
                self.invited.append(Invited(student.id, secret))
        with closing(sqlite3.connect(self.data / DATABASE)) as database:
            for statement in WITNESS:
                database.execute(statement)
            database.commit()
        self.wire.start()
        self.web.start()

    def kills(self) -> Mapping[str, Act]:
        """Say what can be killed."""
        return {"a worker": self._kill_worker, "the web process and all": self._kill_web}

    def troubles(self) -> Mapping[str, Act]:
        """Say what else can go wrong on this machine."""
        clock = {"the clock jumps": self._jump} if CLOCK_LIBRARY is not None else {}
        full = {"the disk is full": self._fill} if self.disk.is_own else {}
        return {"the network drops": self._drop, **clock, **full}

    def heard(self) -> int | None:
        """Count the takes that were heard; None where that cannot be asked now."""
        with suppress(sqlite3.Error), self._reading() as database:
            return int(database.execute("SELECT count(*) FROM takes WHERE status = 'heard'").fetchone()[0])
        return None

    def waiting(self) -> int | None:
        """Count the takes that are still to be heard."""
        with suppress(sqlite3.Error), self._reading() as database:
            asked = "SELECT count(*) FROM takes WHERE status IN ('waiting', 'hearing')"
            return int(database.execute(asked).fetchone()[0])
        return None

    def calm(self) -> None:
        """Let nothing go wrong by itself any more."""
        self.wire.quiet()

    def settle(self) -> None:
        """Start all once more, as on the next morning: what broke off is swept; then end in order."""
        self.web.stop()
        self.web.start()
        time.sleep(1.0)
        self.web.stop()

    def found(self) -> Found:
        """Look at what is there, after the studio's own check."""
        own_check = self._own_check()
        with self._reading() as database:
            rows = [
                Row(*each)
                for each in database.execute(
                    "SELECT id, student_id, upload_key, status, recording, original, tried FROM takes"
                )
            ]
            asked = "SELECT take_id, count(*) FROM soak_written GROUP BY take_id"
            written = dict(database.execute(asked).fetchall())
        folder = self.data / "recordings"
        contents = {f"{each.parent.name}/{each.name}": each.read_bytes() for each in folder.glob("??/*")}
        labels = {each.stem.removeprefix("take-") for each in self.data.glob("labels/*/take-*.json")}
        aside = sum(1 for each in self.data.glob("set-aside/*/??/*") if each.is_file())
        unfinished = sum(1 for _ in folder.glob("unfinished/*"))
        return Found(
            rows,
            written,
            contents,
            frozenset(labels),
            aside,
            unfinished,
            own_check=own_check,
            more={
                "connections cut on the wire": self.wire.cuts,
                "starts of the web process": self.web.starts,
            },
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

    def _kill_worker(self, chance: random.Random) -> str:
        """Kill one of what the server started: a worker, or what decodes for it."""
        below = descendants(self.web.pid)
        return f"pid {(each := chance.choice(below))}: {kill(each)}" if below else "there is none"

    def _kill_web(self, chance: random.Random) -> str:
        """Kill the server alone, or with all that it started, and start it again."""
        alone = chance.random() < 0.5
        (self.web.kill_alone if alone else self.web.kill)()
        time.sleep(chance.uniform(0.2, 2.0))
        self.web.start()
        return "alone; its workers end by themselves" if alone else "with its workers"

    def _drop(self, chance: random.Random) -> str:
        """Cut all connections, and let none through for a while."""
        self.wire.down(is_down=True)
        time.sleep(chance.uniform(0.2, 2.0))
        self.wire.down(is_down=False)
        return "between devices and the web process"

    def _jump(self, chance: random.Random) -> str:
        by_s = chance.choice(JUMPS_S)
        self.web.move_clock(by_s)
        time.sleep(chance.uniform(2.0, 5.0))
        self.web.move_clock(0)
        return f"by {by_s:+d} s and back"

    def _fill(self, chance: random.Random) -> str:
        taken = self.disk.fill()
        time.sleep(chance.uniform(2.0, 5.0))
        self.disk.empty()
        return f"{taken / 1e6:.0f} MB of ballast, taken away again"

    def _reading(self) -> closing[sqlite3.Connection]:
        return closing(sqlite3.connect(f"file:{self.data / DATABASE}?mode=ro", uri=True, timeout=5))
