"""The recordings that are sent: a few invented playings, each take's bytes its own by its first samples.

Conventions: mono, 16 bit, ``RATE_HZ``; 3 to 6 s. Even takes come as FLAC and keep their bytes, odd ones as
WAV, which becomes FLAC when it is heard. Of eight takes the last has the bytes of one before it, so that a
recording which two takes name is among what is tried.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from functools import cache

import numpy as np
import soundfile as sf

from evenhand.arrays import Floats
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player

TEXT, TEMPO = "1/8: RLRR LRLL", "1/4=110"
PLAYINGS, FEWEST_TIMES = 3, 1
MARKED = 32  # samples that hold a take's number, one bit each, a step of 16 bits high
STEP = 1.0 / 32768


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording as it is sent."""

    content: bytes
    name: str
    kind: str

    @property
    def sha256(self) -> str:
        """Return the hash of its bytes, in hex."""
        return hashlib.sha256(self.content).hexdigest()


def recording(number: int) -> Recording:
    """Give a take's recording; the same number gives the same bytes."""
    own = number - 2 if number % 8 == 7 else number
    form, kind = ("FLAC", "audio/flac") if own % 2 == 0 else ("WAV", "audio/wav")
    samples, rate_hz = samples_of(number)
    out = io.BytesIO()
    sf.write(out, samples, rate_hz, format=form, subtype="PCM_16")
    return Recording(out.getvalue(), f"take.{form.lower()}", kind)


def samples_of(number: int) -> tuple[Floats, int]:
    """Give a take's samples, shape (n,), and their rate, Hz."""
    own = number - 2 if number % 8 == 7 else number
    played, rate_hz = _playing(own % PLAYINGS)
    samples = played.copy()
    samples[:MARKED] = [STEP * (own >> bit & 1) for bit in range(MARKED)]
    return samples, rate_hz


def is_of(number: int, content: bytes) -> bool:
    """Tell whether a FLAC holds a take's sound, sample by sample, within one step of its 16 bits.

    What is kept of a WAV is written anew from samples between -1 and 1, and rounded once more there.
    """
    try:
        kept, rate_hz = sf.read(io.BytesIO(content), dtype="float64")
    except sf.SoundFileError:
        return False
    wanted, wanted_hz = samples_of(number)
    if rate_hz != wanted_hz or kept.shape != wanted.shape:
        return False
    return bool(np.max(np.abs(kept - np.round(wanted / STEP) * STEP)) <= 1.5 * STEP)


@cache
def _playing(which: int) -> tuple[Floats, int]:
    scene = Scene(lead_in_s=0.5, count_in="none")
    exercise, tempo = parse_exercise(TEXT), Tempo.parse(TEMPO)
    played = simulate(exercise, tempo, FEWEST_TIMES + which, player=Player(), scene=scene, seed=which)
    return np.asarray(played.samples, dtype=np.float64), played.rate_hz
