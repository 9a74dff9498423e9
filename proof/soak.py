"""Is nothing lost, and nothing doubled? ``make soak``: takes arrive while parts are killed, and more.

Students' devices send takes by HTTP, as the stand does, until each is acknowledged; a ledger keeps what
they saw. Meanwhile parts are killed (kill -9) and started again, the disk is filled, clocks jump, the
network drops, each when so many takes were acknowledged, in an order drawn from the seed. At the end all
is started once more, what waits is heard, and the judge (``judge.py``) counts.

Ends with 1 where anything was lost or doubled. Settings, by the environment:

SOAK_TAKES   how many takes (2000)
SOAK_KILLS   how many kills (20); half as many other troubles come between them
SOAK_SEED    the order of what goes wrong (1)
SOAK_ON      school: Postgres and all that goes with it; folder: SQLite and a folder (school)
SOAK_KEEP    a folder for logs and the ledger; they are kept there
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from pathlib import Path

from proof.devices import Sending
from proof.folder import FolderPlace
from proof.judge import Line, as_text, judged
from proof.ledger import Ledger, read
from proof.parts import NotReady, end_in_order, go_first
from proof.places import Act, Place
from proof.school import SchoolPlace

STUDENTS = 24
MOST_BEHIND = 60  # takes that may wait before the devices pause
LOOK_S = 0.5
STUCK_S = 600.0  # without one more take acknowledged or heard, something is stuck
FIRST, LAST = 0.03, 0.97  # the share of the takes at which things begin and end to go wrong


@dataclass(frozen=True, slots=True)
class Settings:
    """What is asked for."""

    takes: int = 2000
    kills: int = 20
    seed: int = 1
    on: str = "school"

    @classmethod
    def of_environment(cls) -> Settings:
        """Read them."""
        seen = os.environ.get
        return cls(
            int(seen("SOAK_TAKES", "2000")),
            int(seen("SOAK_KILLS", "20")),
            int(seen("SOAK_SEED", "1")),
            seen("SOAK_ON", "school"),
        )


def scheduled(kills: Sequence[str], troubles: Sequence[str], settings: Settings) -> list[tuple[int, str]]:
    """Say what goes wrong when so many takes are acknowledged: every kind in turn, in a drawn order."""
    chance = random.Random(settings.seed)  # noqa: S311 - no secret
    wanted = [kills[number % len(kills)] for number in range(settings.kills)]
    wanted += [troubles[number % len(troubles)] for number in range(max(len(troubles), settings.kills // 2))]
    chance.shuffle(wanted)
    step = (LAST - FIRST) * settings.takes / len(wanted)
    return [
        (int(FIRST * settings.takes + step * (number + chance.random())), what)
        for number, what in enumerate(wanted)
    ]


PLACES: Mapping[str, Callable[..., Place]] = {"folder": FolderPlace, "school": SchoolPlace}


class Stuck(RuntimeError):
    """Nothing moves any more."""


class Soak:
    """One run."""

    def __init__(self, settings: Settings, folder: Path) -> None:
        self._settings = settings
        made = PLACES[settings.on]
        self.place = made(folder, settings.takes, min(STUDENTS, settings.takes), seed=settings.seed)
        self._ledger_at = folder / "ledger.jsonl"
        self._ledger = Ledger(self._ledger_at)
        self._began_s = self._asked_s = time.monotonic()
        self._lock, self._heard = threading.Lock(), 0

    def run(self) -> list[Line]:
        """Let it all happen, and judge.

        Raises
        ------
        Stuck
            What must come to an end does not.
        """
        self.place.start()
        sending = Sending(
            self.place.address,
            self.place.invited,
            self._ledger,
            self._settings.takes,
            seed=self._settings.seed,
        )
        sending.gate = lambda: self._ledger.acknowledged - self._heard_now() < MOST_BEHIND
        self._say("begins")
        try:
            sending.start()
            self._trouble(sending)
            self.place.calm()
            self._until(sending.over, "all takes to be acknowledged")
            self._say("all are acknowledged")
            self._until(self._none_waits, "all takes to be heard")
        finally:
            sending.given_up.set()
        self._say(f"nothing waits; {sending.tries} tries, {sending.entries_lost} at the entrance again")
        self.place.settle()
        self._ledger.close()
        return judged(read(self._ledger_at), self.place.found())

    def _trouble(self, sending: Sending) -> None:
        """Do each thing when it is due."""
        acts: dict[str, Act] = {**self.place.kills(), **self.place.troubles()}
        chance = random.Random(self._settings.seed + 1)  # noqa: S311 - no secret
        for due, what in scheduled([*self.place.kills()], [*self.place.troubles()], self._settings):
            self._until(partial(self._is_due, due, sending), f"take {due}")
            self._say(f"{what}: {acts[what](chance)}")

    def _is_due(self, due: int, sending: Sending) -> bool:
        return self._ledger.acknowledged >= due or sending.over()

    def _none_waits(self) -> bool:
        counts = self.place.counts()
        return counts is not None and not {"waiting", "hearing"} & counts.keys()

    def _heard_now(self) -> int:
        """Tell how many were heard, as it was asked last."""
        with self._lock:
            if time.monotonic() - self._asked_s > LOOK_S:
                self._asked_s = time.monotonic()
                self._heard = (self.place.counts() or {"heard": self._heard}).get("heard", 0)
            return self._heard

    def _until(self, come: Callable[[], bool], what: str) -> None:
        """Wait for something, as long as takes are acknowledged or heard meanwhile."""
        moved_s, last = time.monotonic(), (-1, -1)
        while not come():
            now = (self._ledger.acknowledged, self._heard_now())
            if now != last:
                moved_s, last = time.monotonic(), now
            if time.monotonic() - moved_s > STUCK_S:
                raise Stuck(f"waited {STUCK_S:.0f} s for {what}; {now[0]} acknowledged, {now[1]} heard")
            time.sleep(LOOK_S / 5)

    def _say(self, words: str) -> None:
        at = timedelta(seconds=int(time.monotonic() - self._began_s))
        counts = f"{self._ledger.acknowledged:5d} acknowledged, {self._heard_now():5d} heard"
        print(f"{at}  {counts}   {words}", flush=True)


def soaked(settings: Settings, folder: Path) -> list[Line]:
    """Run once in a folder; give the verdict."""
    soak = Soak(settings, folder)
    try:
        return soak.run()
    finally:
        soak.place.close()


@contextmanager
def kept_folder() -> Iterator[Path]:
    """Give a folder that goes at the end, unless SOAK_KEEP names one."""
    if keep := os.environ.get("SOAK_KEEP"):
        Path(keep).mkdir(parents=True, exist_ok=True)
        yield Path(keep)
    else:
        with tempfile.TemporaryDirectory(prefix="evenhand-soak-", ignore_cleanup_errors=True) as folder:
            yield Path(folder)


def main() -> int:
    """Run, print the table, and tell whether all of it holds."""
    settings = Settings.of_environment()
    end_in_order()
    go_first()
    print(f"{settings.takes} takes, {settings.kills} kills, seed {settings.seed}, on a {settings.on}")
    try:
        with kept_folder() as folder:
            lines = soaked(settings, folder)
    except (Stuck, NotReady) as error:
        print(f"The soak came to no end: {error}", file=sys.stderr)
        return 1
    print(as_text(lines))
    wrong = [line for line in lines if not line.holds]
    print("Nothing was lost, and nothing doubled." if not wrong else f"{len(wrong)} lines are WRONG.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
