"""Live takes heard in processes of their own: the same hits, and no take's trouble is another's."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.studio.live.child import hear_frames
from evenhand.studio.live.hearing import GONE, LiveProcesses
from evenhand.studio.live.wire import HEAD, LARGEST, Kind, frame, hits_in, live_ear
from tests.web.stands import TEMPO, TEXT, a_playing

BEGIN = {"rate": 48_000, "exercise": TEXT, "tempo": TEMPO, "first_note_s": 0.5}
BLOCK = 2048
Samples = NDArray[np.float32]


def blocks(samples: Samples) -> Iterator[Samples]:
    for start in range(0, len(samples), BLOCK):
        yield samples[start : start + BLOCK].astype(np.float32)


def alone(samples: Samples) -> list[dict[str, Any]]:
    """Hear a take as the live ear of this process does: the reference."""
    ear = live_ear(json.dumps(BEGIN))
    return [hit for block in blocks(samples) for hit in hits_in(ear, block)]


def test_several_side_by_side_are_heard_as_each_alone() -> None:
    played = a_playing(1).samples
    takes = [played, np.pad(played, (4800, 0)), played[::2].repeat(2)]

    async def hear() -> list[list[dict[str, Any]]]:
        processes = LiveProcesses(most=2, enough=2)
        ears = [await processes.open(json.dumps(BEGIN)) for _ in takes]
        assert len(processes.pids()) == 2

        async def one(ear: Any, samples: Samples) -> list[dict[str, Any]]:
            return [hit for block in blocks(samples) for hit in await ear.feed(block)]

        found = await asyncio.gather(*map(one, ears, takes))
        await processes.stop()
        return found

    found = asyncio.run(hear())
    assert found == [alone(samples) for samples in takes]
    assert [len(hits) for hits in found[:2]] == [8, 8]


def test_what_is_wrong_with_one_is_said_and_ends_that_one_only() -> None:
    async def hear() -> None:
        processes = LiveProcesses(most=1)
        good = await processes.open(json.dumps(BEGIN))
        with pytest.raises(WrongUse, match="the rate 3"):
            await processes.open(json.dumps({**BEGIN, "rate": 3}))
        bad = await processes.open(json.dumps(BEGIN))
        with pytest.raises(WrongUse, match="finite"):
            await bad.feed(np.full(2048, np.nan, dtype=np.float32))
        assert await good.feed(np.zeros(2048, dtype=np.float32)) == []
        assert len(processes.pids()) == 1
        await processes.stop()

    asyncio.run(hear())


def test_a_process_that_is_killed_is_said_and_the_next_take_gets_another() -> None:
    async def hear() -> None:
        processes = LiveProcesses(most=1)
        ear = await processes.open(json.dumps(BEGIN))
        (pid,) = processes.pids()
        os.kill(pid, signal.SIGKILL)

        async def play_on() -> None:
            for _ in range(100):
                await ear.feed(np.zeros(48_000, dtype=np.float32))

        with pytest.raises(WrongUse, match=GONE):
            await play_on()
        ear.close()
        again = await processes.open(json.dumps(BEGIN))
        assert await again.feed(np.zeros(2048, dtype=np.float32)) == []
        assert processes.pids() != [pid]
        await processes.stop()
        assert processes.pids() == []

    asyncio.run(hear())


def test_a_place_is_free_again_when_a_take_ends() -> None:
    async def hear() -> None:
        processes = LiveProcesses(most=2, enough=1)
        first = await processes.open(json.dumps(BEGIN))
        first.close()
        await processes.open(json.dumps(BEGIN))
        assert len(processes.pids()) == 1
        await processes.open(json.dumps(BEGIN))
        assert len(processes.pids()) == 2
        await processes.stop()

    asyncio.run(hear())


SERVER = """
import asyncio, json, os, signal, sys
from evenhand.studio.live.hearing import LiveProcesses

async def main():
    processes = LiveProcesses(most=1)
    await processes.open(sys.argv[1])
    print(*processes.pids(), flush=True)
    os.kill(os.getpid(), signal.SIGKILL)

asyncio.run(main())
"""


def lives(pid: int) -> bool:
    """Tell whether a process runs; one that ended and waits to be collected does not."""
    try:
        with open(f"/proc/{pid}/stat") as stat:  # noqa: PTH123 - no file of ours
            return stat.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="needs /proc to see whether a process lives")  # noqa: PTH112
def test_a_server_that_is_killed_leaves_no_process_behind() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SERVER, json.dumps(BEGIN)], capture_output=True, text=True, check=False
    )
    assert done.returncode == -signal.SIGKILL
    pid = int(done.stdout)
    for _ in range(500):
        if not lives(pid):
            break
        time.sleep(0.02)
    assert not lives(pid)


def test_a_frame_that_is_too_large_ends_the_process() -> None:
    answers = BytesIO()
    hear_frames(BytesIO(HEAD.pack(1, Kind.FEED, LARGEST + 1) + b"0" * 100), answers)
    assert answers.getvalue() == b""


def test_sound_for_an_ear_that_was_not_opened_is_refused() -> None:
    answers = BytesIO()
    hear_frames(BytesIO(frame(5, Kind.FEED, b"\0" * 8) + frame(5, Kind.CLOSE)), answers)
    ear, kind, _ = HEAD.unpack(answers.getvalue()[: HEAD.size])
    assert (ear, kind) == (5, Kind.WRONG)
