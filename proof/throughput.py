"""How many takes are heard an hour and core, and what the queue takes of it: ``python -m proof.throughput``.

    python -m proof.throughput [--takes N] [--on folder school] [--out FILE]

Takes of 30 s, as the stand sends them, wait in a queue; one, two and four workers hear them, in one run. A
rate is taken while all workers are busy: from the moment when each has had one to the moment when the last
are in hand. An hour and core counts the workers' own CPU time, so that other work on the machine disturbs it
least; the ratio against one worker is of the clock, and two cores cannot give more than twice as many.

The queue's own part is measured without any hearing: claim, a heartbeat, and the writing of what was heard,
by one worker; CPU of the worker and of the database's processes.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import soundfile as sf

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.studio.store.layout import FOLDER_ALONE, Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import NewTake
from evenhand.studio.work.pool import WorkerPool
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from proof.devices import Device
from proof.folder import FolderPlace
from proof.parts import Part, descendants, end_in_order
from proof.places import Place
from proof.school import SchoolPlace
from proof.sounds import MARKED, STEP, TEMPO, TEXT, Recording

WORKERS = (1, 2, 4)
SECONDS, TIMES = 30.0, 13
QUEUED, ASKED = 200, 40
LOOK_S = 0.1  # each look asks the database, too
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, slots=True)
class Rate:
    """What so many workers did: takes an hour and core of CPU, and an hour of the clock; CPU s a take."""

    on: str
    workers: int
    takes: int
    hour_and_core: float
    hour: float
    cpu_s: float
    times_one: float = 1.0


@dataclass(frozen=True, slots=True)
class Own:
    """What else a take costs: CPU ms of the queue, the database, its arrival, a page; its bytes."""

    on: str
    queue_ms: float
    queue_wall_ms: float
    database_ms: float
    arrival_ms: float
    page_ms: float
    state_ms: float
    sent_mb: float
    kept_mb: float
    row_kb: float


class Takes:
    """Takes of 30 s, each with bytes of its own."""

    def __init__(self) -> None:
        scene = Scene(lead_in_s=0.5, count_in="none", noise_snr_db=40)  # FLAC packs silence to nothing
        played = simulate(parse_exercise(TEXT), Tempo.parse(TEMPO), TIMES, scene=scene, seed=2)
        self._samples, self._rate_hz, self._n = np.array(played.samples), played.rate_hz, 0
        self.seconds = len(self._samples) / self._rate_hz

    def next(self) -> Recording:
        """Give another."""
        self._n += 1
        self._samples[:MARKED] = [STEP * (self._n >> bit & 1) for bit in range(MARKED)]
        out = io.BytesIO()
        sf.write(out, self._samples, self._rate_hz, format="WAV", subtype="PCM_16")
        return Recording(out.getvalue(), "take.wav", "audio/wav")


def cpu_s(pids: list[int]) -> float:
    """Return the CPU time that processes, and those of theirs that ended, have taken, s."""
    total = 0.0
    for pid in pids:
        try:
            fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
        except OSError:
            continue
        total += sum(int(each) for each in fields[11:15]) / TICKS
    return total


def below(*parts: Part) -> Callable[[], float]:
    """Count the CPU of parts and all that they started."""
    return lambda: cpu_s([pid for part in parts for pid in (part.pid, *descendants(part.pid))])


def wait(studio: Studio, student_id: str, takes: Takes, n: int, *, marked: str, short: bool = False) -> None:
    """Let so many takes wait."""
    for number in range(n):
        new = NewTake(
            student_id, f"{marked}-{number:08d}", TEXT, TEMPO, studio.data.now(), source="microphone"
        )
        content = f"{marked} {number}".encode() if short else takes.next().content
        studio.takes.receive(new, content)


def heard_by(on: str, studio: Studio, data: Path, backing: Backing, workers: int, n: int) -> Rate:
    """Let workers hear what waits; count while all are busy."""
    begun = studio.queue.counts()["heard"]
    seen: list[tuple[float, float, int]] = []
    with WorkerPool(data, workers, backing=backing):
        while (done := studio.queue.counts()["heard"] - begun) < n:
            if not seen or done > seen[-1][2]:
                seen.append((time.monotonic(), cpu_s(descendants(os.getpid())), done))
            time.sleep(LOOK_S)
    first = next(each for each in seen if each[2] >= workers)
    last = next((each for each in seen if each[2] >= n - workers), seen[-1])
    heard, cpu, wall_s = last[2] - first[2], last[1] - first[1], last[0] - first[0]
    return Rate(on, workers, n, 3600 * heard / cpu, 3600 * heard / wall_s, cpu / heard)


def own_part(studio: Studio, text: str, database: Callable[[], float]) -> tuple[float, float, float]:
    """Take takes through the queue that nobody hears; CPU and clock ms a take, and the database's CPU ms."""
    of_database, cpu, wall_s = database(), time.process_time(), time.monotonic()
    done = 0
    while (take := studio.queue.claim("nobody")) is not None:
        studio.queue.still_hearing(take.id, "nobody", 0.5)
        done += studio.queue.took_heard(take.id, text, SECONDS, worker="nobody")
    wall_ms = 1000 * (time.monotonic() - wall_s) / done
    return 1000 * (time.process_time() - cpu) / done, wall_ms, 1000 * (database() - of_database) / done


def asked(place: Place, takes: Takes) -> tuple[float, float, float, float]:
    """Send takes and ask for pages by HTTP; the server's CPU ms for each, and a take's MB as sent."""
    counted = below(*place.parts())
    device = Device(place.address, place.invited[0])
    device.open()
    sent, sizes = [], []

    def each(act: Callable[[int], object]) -> float:
        before = counted()
        for number in range(ASKED):
            act(number)
        return 1000 * (counted() - before) / ASKED

    def send(number: int) -> None:
        sound = takes.next()
        sizes.append(len(sound.content) / 1e6)
        status, said = device.send(sound, f"throughput-{number:08d}")
        if status != 202:
            raise RuntimeError(f"a take was answered by {status}: {said}")
        sent.append(said)

    arrival_ms = each(send)
    page_ms = each(lambda _: device.ask("/stand"))
    state_ms = each(lambda number: device.ask(f"/stand/takes/{sent[number]}/state.json"))
    device.close()
    return arrival_ms, page_ms, state_ms, float(np.mean(sizes))


@contextmanager
def served(on: str, folder: Path) -> Iterator[tuple[Place, Studio, Backing, Callable[[], float]]]:
    """Serve a studio that hears nothing; give it, opened here too, and how to count the database's CPU."""
    options = {"seed": 1, "workers": 0, "wired": False}
    if on == "school":
        school = SchoolPlace(folder, 1000, 2, **options)  # type: ignore[arg-type]
        place: SchoolPlace | FolderPlace = school
        count = below(school.postgres.part)
    else:
        place, count = FolderPlace(folder, 1000, 2, **options), lambda: 0.0  # type: ignore[arg-type]
    try:
        place.start()
        backing = place.backing if isinstance(place, SchoolPlace) else FOLDER_ALONE
        with Studio.open(place.data, backing=backing) as studio:
            yield place, studio, backing, count
    finally:
        place.close()


def measured(on: str, n: int) -> tuple[list[Rate], Own]:
    """Measure one kind of place."""
    takes, rates = Takes(), []
    with (
        tempfile.TemporaryDirectory(prefix="evenhand-throughput-") as folder,
        served(on, Path(folder)) as (place, studio, backing, database),
    ):
        student = place.invited[0].student_id
        for workers in WORKERS:
            wait(studio, student, takes, n, marked=f"of-{workers}-workers")
            rates.append(heard_by(on, studio, place.data, backing, workers, n))
            say(f"{on}, {workers} workers: {rates[-1].hour_and_core:,.0f} an hour and core")
        heard = studio.takes.all(student, limit=1, with_heard=True)[0]
        kept_mb = studio.data.recordings.size_of(heard.recording or "") / 1e6
        wait(studio, student, takes, QUEUED, marked="nobody-hears-this", short=True)
        queue_ms, wall_ms, database_ms = own_part(studio, heard.heard or "", database)
        arrival_ms, page_ms, state_ms, sent_mb = asked(place, takes)
        own = Own(
            on,
            queue_ms,
            wall_ms,
            database_ms,
            arrival_ms,
            page_ms,
            state_ms,
            sent_mb,
            kept_mb,
            row_kb(heard.heard),
        )
    one = rates[0].hour
    return [Rate(**{**asdict(rate), "times_one": rate.hour / one}) for rate in rates], own


def row_kb(text: str | None) -> float:
    """Return what a row's largest column, what was heard, has as text, kB."""
    return len((text or "").encode()) / 1e3


def say(words: str) -> None:
    """Tell how far it is."""
    print(words, file=sys.stderr, flush=True)


def as_text(rates: list[Rate], owns: list[Own]) -> str:
    """Write the tables."""
    lines = [
        f"{'on':7} {'workers':>7} {'takes':>6} {'an hour and core':>17} {'an hour':>9} {'times one':>10}"
    ]
    lines += [
        f"{r.on:7} {r.workers:7d} {r.takes:6d} {r.hour_and_core:17,.0f} {r.hour:9,.0f} {r.times_one:10.2f}"
        for r in rates
    ]
    for own in owns:
        lines += [
            f"{own.on}: {name.replace('_', ' ')} {value:.2f}"
            for name, value in asdict(own).items()
            if name != "on"
        ]
    return "\n".join(lines)


def main() -> int:
    """Measure, and print the tables."""
    parser = argparse.ArgumentParser(prog="python -m proof.throughput")
    parser.add_argument("--takes", type=int, default=40, metavar="N", help="for each number of workers")
    parser.add_argument("--on", nargs="+", choices=("folder", "school"), default=["folder", "school"])
    parser.add_argument("--out", type=Path, metavar="FILE", help="all figures as JSON")
    options = parser.parse_args()
    end_in_order()
    began = os.getloadavg()
    found = [measured(on, options.takes) for on in options.on]
    rates, owns = [rate for some, _ in found for rate in some], [own for _, own in found]
    print(
        f"load of the machine: {began[0]:.1f} before, {os.getloadavg()[0]:.1f} after; cores: {os.cpu_count()}"
    )
    print(as_text(rates, owns))
    if options.out is not None:
        told = {"rates": [asdict(each) for each in rates], "own": [asdict(each) for each in owns]}
        options.out.write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
