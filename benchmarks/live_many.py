"""How soon is a hit marked while several students play at once? ``python -m benchmarks.live_many``.

A studio is served as ``evenhand serve`` serves it; so many students open its live socket and send an invented
take at the pace at which it is played, in blocks as a browser sends them. A hit's delay is from the moment at
which the block that holds its beginning would have begun to be played, to the moment at which it is told.
Meanwhile somebody asks for the log-in page. The microphone's and the page's own part come on top.

Conventions: delays in ms of the clock; CPU in percent of one core, of all the server's processes, a student,
without what they take while nobody plays and the page is asked for.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
from websockets.asyncio.client import connect
from websockets.typing import Origin

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.studio.store.studio import Studio
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.web.guard import COOKIE
from evenhand.web.serving import STUDENT_STAYS
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

TEXT, TEMPO, REPETITIONS, BLOCK = "1/16: >RLRR >LRLL", "1/4=110", 12, 512
SETTLES_S, QUIET_S = 12.0, 5.0  # what a server makes ready after its start is no student's
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Load:
    """What so many students at once saw: delays of hits and of a page in ms, CPU in percent of a core."""

    students: int
    delays_ms: Sequence[float]
    pages_ms: Sequence[float]
    cpu_each: float
    found: float


def cpu_s(pid: int) -> float:
    """Return the CPU time that a process and those it started have taken."""
    total = 0.0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(entry.name) == pid or int(fields[1]) == pid:
                total += (int(fields[11]) + int(fields[12])) / TICKS
    return total


async def play(address: str, secret: str, take: SimulatedTake, wait_s: float) -> list[float]:
    """Play a take into the socket; give each hit's delay."""
    sound = np.round(np.clip(take.samples, -1, 1) * 32767).astype("<i2")
    url = address.replace("http", "ws", 1) + "/stand/live"
    delays: list[float] = []
    async with connect(
        url, origin=Origin(address), additional_headers={"Cookie": f"{COOKIE}={secret}"}
    ) as socket:
        begin = {"rate": take.rate_hz, "exercise": TEXT, "tempo": TEMPO}
        await socket.send(json.dumps(begin))
        await socket.recv()  # it is ready
        await asyncio.sleep(wait_s)
        began = time.perf_counter()

        async def listen() -> None:
            while "ended" not in (told := json.loads(await socket.recv())):
                now = time.perf_counter() - began
                delays.extend(1e3 * (now - hit["time_s"]) for hit in told.get("hits", ()))

        listening = asyncio.create_task(listen())
        for start in range(0, len(sound), BLOCK):
            due = (start + BLOCK) / take.rate_hz
            await asyncio.sleep(max(0.0, due - (time.perf_counter() - began)))
            await socket.send(sound[start : start + BLOCK].tobytes())
        await socket.send('{"end": true}')
        await listening
    return delays


async def look(address: str, ended: asyncio.Event) -> list[float]:
    """Ask for a page now and then; give how long each took."""
    took: list[float] = []
    async with httpx2.AsyncClient() as client:
        while not ended.is_set():
            began = time.perf_counter()
            await client.get(f"{address}/login")
            took.append(1e3 * (time.perf_counter() - began))
            await asyncio.sleep(0.2)
    return took


async def load(served: Served, secrets: Sequence[str]) -> Load:
    """Let students play at once."""
    take = simulate(
        parse_exercise(TEXT),
        Tempo.parse(TEMPO),
        REPETITIONS,
        scene=Scene(noise_snr_db=40, count_in="none"),
        seed=5,
    )
    ended = asyncio.Event()
    looking = asyncio.create_task(look(served.address, ended))
    quiet = cpu_s(served.pid)
    await asyncio.sleep(QUIET_S)
    quiet = (cpu_s(served.pid) - quiet) / QUIET_S
    before, began = cpu_s(served.pid), time.perf_counter()
    waits = np.linspace(0, 0.5, len(secrets))
    found = await asyncio.gather(
        *(
            play(served.address, secret, take, wait)
            for secret, wait in zip(secrets, waits.tolist(), strict=True)
        )
    )
    seconds = time.perf_counter() - began
    cpu = 100 * ((cpu_s(served.pid) - before) / seconds - quiet) / len(secrets)
    ended.set()
    delays = [delay for each in found for delay in each]
    return Load(len(secrets), delays, await looking, cpu, len(delays) / len(secrets) / len(take.truth.hits))


def row(of: Load) -> str:
    """Write a load as a row of the table."""
    p50, p99 = np.percentile(of.delays_ms, [50, 99])
    pages = np.percentile(of.pages_ms, 95)
    return f"| {of.students} | {p50:.1f} | {p99:.1f} | {pages:.1f} | {of.cpu_each:.1f} | {of.found:.3f} |"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    asked: Any = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--students", type=int, nargs="+", default=[1, 5, 10])
    numbers = asked.parse_args(arguments).students
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "studio"
        with a_studio(Path(folder)) as studio:
            people = [studio.students.add(f"Student {n + 1}") for n in range(max(numbers))]
        with Served(data) as served, Studio.open(data, hasher=QUICK) as studio:
            secrets = [
                studio.access.begin("student", student_id=each.id, lasts=STUDENT_STAYS)[0] for each in people
            ]
            print("| students | p50, ms | p99, ms | page p95, ms | CPU a student, % of a core | hits told |")
            print("|---|---|---|---|---|---|")
            time.sleep(SETTLES_S)
            for number in numbers:
                print(row(asyncio.run(load(served, secrets[:number]))), flush=True)


if __name__ == "__main__":
    main()
