"""Sounds whose beginnings are known by construction, and takes of the simulated player.

A burst is noise that begins at full strength at its sample and dies away; a click is a short
tone that begins anywhere, between samples too, the same each time.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenhand.hearing.alignment.score import Score
from evenhand.hearing.listen import listen
from evenhand.hearing.onsets.candidates import Candidates
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard

Floats = NDArray[np.float32]
Array = NDArray[np.float64]

RATE_HZ = 48_000
STEADY = Player(timekeeper_sd_ms=4, level_sd_db=1)
EXERCISE = "1/8: RLRR LRLL"


def evenly(first_s: float, apart_s: float, n: int) -> Array:
    """Give n times as far apart from each other."""
    return np.asarray(first_s + apart_s * np.arange(n), dtype=np.float64)


def floor_of_noise(seconds: float, level_db: float = -80, rate_hz: int = RATE_HZ, seed: int = 9) -> Array:
    """Give white noise of an RMS level."""
    rng = np.random.default_rng(seed)
    return np.asarray(10 ** (level_db / 20) * rng.standard_normal(round(seconds * rate_hz)))


def bursts(at_s: Array, level_db: Array | float = -12.0, rate_hz: int = RATE_HZ, seed: int = 1) -> Array:
    """Lay bursts (time constant 12 ms) on a quiet floor; times are rounded to samples."""
    rng = np.random.default_rng(seed)
    out = floor_of_noise(float(at_s[-1]) + 0.6, rate_hz=rate_hz)
    fading = np.exp(-np.arange(rate_hz // 8) / (0.012 * rate_hz))
    for time_s, level in zip(at_s, np.broadcast_to(level_db, at_s.shape), strict=True):
        begin = round(float(time_s) * rate_hz)
        out[begin : begin + len(fading)] += 10 ** (level / 20) * fading * rng.standard_normal(len(fading))
    return out


def clicks(at_s: Array, seconds: float, tone_hz: Array | float = 1000.0, peak: float = 0.3) -> Array:
    """Give clicks that begin exactly at these times, on a floor of silence."""
    out = np.zeros(round(seconds * RATE_HZ))
    for time_s, hz in zip(at_s, np.broadcast_to(tone_hz, at_s.shape), strict=True):
        first = int(np.ceil(time_s * RATE_HZ))
        t = np.arange(first, min(first + round(0.03 * RATE_HZ), len(out))) / RATE_HZ - time_s
        shape = np.sin(np.pi / 2 * np.minimum(t / 4e-4, 1)) ** 2 * np.exp(-t / 0.006)
        out[first : first + len(t)] += peak * shape * np.sin(2 * np.pi * hz * t)
    return out


def played(
    text: str = EXERCISE,
    tempo: str = "1/4=110",
    repetitions: int = 3,
    player: Player = STEADY,
    seed: int = 17,
    **scene: Any,
) -> SimulatedTake:
    """Give a take by the simulated player; without more said, no click and no count-in."""
    place = Scene(**{"noise_snr_db": 40.0, "count_in": "none", "lead_in_s": 0.4, "tail_s": 0.5, **scene})
    return simulate(
        parse_exercise(text), Tempo.parse(tempo), repetitions, player=player, scene=place, seed=seed
    )


def heard_in(take: SimulatedTake, text: str = EXERCISE, tempo: str = "1/4=110", **how: Any) -> Heard:
    """Hear a take as one of an exercise."""
    return listen(take.samples, take.rate_hz, exercise=parse_exercise(text), tempo=Tempo.parse(tempo), **how)


def score_of(text: str = EXERCISE, tempo: str = "1/4=120") -> Score:
    """Lay an exercise out."""
    return Score.of(parse_exercise(text), Tempo.parse(tempo))


def candidates_at(
    times_s: Array | list[float],
    strength: Array | float = 8.0,
    level_db: Array | float = -20.0,
    colour: Array | None = None,
) -> Candidates:
    """Give candidates, all of one colour where none is given."""
    times = np.asarray(times_s, dtype=np.float64)
    return Candidates(
        times,
        np.array(np.broadcast_to(strength, times.shape), dtype=np.float64),
        np.array(np.broadcast_to(level_db, times.shape), dtype=np.float64),
        np.zeros((len(times), 5)) if colour is None else colour,
    )
