"""Recordings for tests, by the invented player."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.simulate import Wanted, simulate_take
from evenhand.media.write import write_wav
from evenhand.synthesis.instruments import Scene

EXERCISE, TEMPO = "1/8: RLRR LRLL", "1/8=240"


@cache
def a_recording(seed: int = 0, repetitions: int = 2, faults: tuple[str, ...] = ()) -> bytes:
    """Give a WAV of an invented take of RLRR LRLL, some four seconds long."""
    take = simulate_take(Wanted(TakeRequest.read(EXERCISE, TEMPO), repetitions, faults, seed), Scene())
    with TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        write_wav(path, take.samples, take.rate_hz)
        return path.read_bytes()
