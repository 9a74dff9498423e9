"""Where a soak takes place: what is common to the small house and the school's.

Conventions: an act does one thing that goes wrong, waits until it is over, and says what it was.
A place never kills what it did not start.
"""

from __future__ import annotations

import random
import socket
import time
import urllib.request
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Protocol, TypeVar

from argon2 import PasswordHasher

from evenhand.acts.weeks.document import plan_to_json
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Week
from evenhand.web.serving import LINK_LASTS
from proof.devices import Invited
from proof.judge import Found
from proof.parts import COMPILER, LOOK_S, Disk, Part, command_of, descendants, kill
from proof.sounds import TEMPO, TEXT
from proof.wire import Wire

HOST, PASSWORD = "127.0.0.1", "rim and shoulder"
QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
MB_EACH, MB_LEAST = 1.2, 160
JUMPS_S = (-86_400, -3600, -90, 90, 3600, 2 * 86_400)
HEARING_SOON_S = 20.0
CUT_EVERY = 60e6  # bytes on a wire, about
ROWS = "SELECT id, student_id, upload_key, status, recording, original, tried FROM takes"

Act = Callable[[random.Random], str]


class Killed(Protocol):
    """What can be killed whole, and started again."""

    starts: int

    @property
    def name(self) -> str:
        """What it is called."""

    def start(self) -> None:
        """Start it, and wait until it is ready."""

    def lives(self) -> bool:
        """Tell whether it runs."""

    def kill(self) -> None:
        """End it and all that it started at once."""


class Place(Protocol):
    """What a soak needs of a place."""

    address: str
    invited: list[Invited]
    taught: dict[str, list[str]]  # students' ids by their teacher's login name; "" where there is none

    @property
    def data(self) -> Path:
        """Where the studio, or its scratch, lies."""

    def start(self) -> None:
        """Make it, and start all parts."""

    def parts(self) -> list[Part]:
        """List what runs of the code under test."""

    def kills(self) -> Mapping[str, Act]:
        """Say what can be killed."""

    def troubles(self) -> Mapping[str, Act]:
        """Say what else can go wrong on this machine."""

    def counts(self) -> Mapping[str, int] | None:
        """Count the takes of each status; None where that cannot be asked now."""

    def calm(self) -> None:
        """Let nothing go wrong by itself any more."""

    def settle(self) -> None:
        """Start all once more, as on the next morning, so that what broke off is swept; then end in order."""

    def found(self) -> Found:
        """Look at what is there, after the studio's own check."""

    def close(self) -> None:
        """End all, and give the room back."""


def free_port() -> int:
    """Find a port that nobody uses."""
    with socket.create_server((HOST, 0)) as found:
        return int(found.getsockname()[1])


def answers(port: int) -> bool:
    """Tell whether a studio says that it is there."""
    with suppress(OSError), urllib.request.urlopen(f"http://{HOST}:{port}/health", timeout=5) as answer:
        return bool(answer.status == 200)
    return False


def invite(studio: Studio, students: int) -> list[Invited]:
    """Take invented students in, each with a link and a week to practise."""
    found = []
    items = (item(TEXT, 90.0), item("1/16: >RLRL RRLL", 60.0))
    plan = plan_to_json(PracticePlan((PracticeDay(items),) * 7))
    today = datetime.now().astimezone().date()
    for number in range(students):
        student = studio.students.add(f"Student {number}")
        studio.weeks.send(studio.weeks.save(Week("", student.id, today, "half", plan)).id)
        found.append(Invited(student.id, studio.access.make_link(student.id, lasts=LINK_LASTS)[0]))
    return found


def item(text: str, seconds: float) -> PracticeItem:
    """Give an exercise to practise for so long."""
    return PracticeItem(parse_exercise(text), Tempo.parse(TEMPO), 8, seconds, rest_s=30.0)


def kept_in(folder: Path) -> dict[str, bytes]:
    """Read all recordings of a folder, by key."""
    return {f"{each.parent.name}/{each.name}": each.read_bytes() for each in folder.glob("??/*")}


def count_of(places: Iterable[Path]) -> int:
    """Count files."""
    return sum(1 for each in places if each.is_file())


# Acts.


def while_hearing(place: Place, act: Act) -> Act:
    """Do it at a moment when a take is being heard, if one comes soon."""

    def waiting(chance: random.Random) -> str:
        end_s = time.monotonic() + HEARING_SOON_S
        while "hearing" not in (place.counts() or {}) and time.monotonic() < end_s:
            time.sleep(LOOK_S)
        return act(chance)

    return waiting


def kill_below(*parts: Part) -> Act:
    """Kill one of what parts started: a worker, a further web process, or what decodes."""

    def act(chance: random.Random) -> str:
        part, end_s = chance.choice(parts), time.monotonic() + HEARING_SOON_S
        while not (below := descendants(part.pid)) and time.monotonic() < end_s:
            time.sleep(LOOK_S)
        if not below:
            return f"{part.name} has none"
        each = chance.choice(below)
        return f"{command_of(each)} of {part.name}{'' if kill(each) else ', which had ended by itself'}"

    return act


AnyPart = TypeVar("AnyPart", bound=Killed)


def kill_alone(*parts: Part) -> Act:
    """Kill the first process of a part, not what that started, and start it again."""
    return _killed(parts, Part.kill_alone, "its first process alone")


def kill_whole(*parts: Killed) -> Act:
    """Kill a part with all that it started, and start it again."""
    return _killed(parts, lambda part: part.kill(), "with all below it")


def _killed(parts: Sequence[AnyPart], how: Callable[[AnyPart], None], what: str) -> Act:
    def act(chance: random.Random) -> str:
        part = chance.choice(parts)
        how(part)
        time.sleep(chance.uniform(0.2, 2.0))
        part.start()
        return f"{part.name}, {what}; it is back"

    return act


def drop(wires: Sequence[tuple[str, Wire]]) -> Act:
    """Cut all connections of one wire mid-bytes, and let none through for a while."""

    def act(chance: random.Random) -> str:
        name, wire = chance.choice(wires)
        before = wire.cuts
        wire.down(is_down=True)
        time.sleep(chance.uniform(0.2, 3.0))
        wire.down(is_down=False)
        return f"between {name}: {wire.cuts - before} connections cut"

    return act


def jump(parts: Sequence[Part]) -> dict[str, Act]:
    """Let one part's clock jump, and come back; nothing where there is no C compiler."""

    def act(chance: random.Random) -> str:
        part, by_s = chance.choice(parts), chance.choice(JUMPS_S)
        part.move_clock(by_s)
        time.sleep(chance.uniform(2.0, 5.0))
        part.move_clock(0)
        return f"of {part.name}, by {by_s:+d} s and back"

    return {} if COMPILER is None else {"the clock jumps": act}


def fill(disks: Mapping[str, Disk], parts: Sequence[Killed] = ()) -> dict[str, Act]:
    """Fill one disk to its last bytes, and empty it; nothing where this user may not mount.

    What ended of it is started again.
    """

    def act(chance: random.Random) -> str:
        name = chance.choice(sorted(disks))
        taken = disks[name].fill()
        time.sleep(chance.uniform(2.0, 5.0))
        disks[name].empty()
        ended = [part for part in parts if not part.lives()]
        for part in ended:
            part.start()
        back = "".join(f"; {part.name} ended of it and is back" for part in ended)
        return f"of {name}: {taken / 1e6:.0f} MB of ballast, taken away again{back}"

    return {"the disk is full": act} if all(disk.is_own for disk in disks.values()) else {}
