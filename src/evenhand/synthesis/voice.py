"""The sound of a played exercise: a pad, each stroke as loud as its height says, and no two quite alike.

Conventions: heights in cm, levels in dB re a stroke from the height of a full one; sounds of shape (n,).

A stick that only fell would strike at a speed of ``sqrt(2 g h)``, and lose 3 dB for half the height: taps
from 4 in would lie 4.4 dB under accents from 11 in. A player throws an accent and lets a tap drop, and hears
9 to 12 dB between the two as right (common practice): here half the height is 7.2 dB less, and such taps lie
10.5 dB under.

Put strokes where they belong, to parts of a sample, and say exactly where that is.

Conventions: rows have shape (n_strokes, n_samples); times in seconds of the take; levels in dB.

Strokes from recorded samples of several velocities, given as arrays.

Conventions: layers go from soft to loud, each (samples of shape (n,), rate in Hz).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import COMMON_HEIGHTS
from evenhand.synthesis.instruments import DRUMS, Drum
from evenhand.synthesis.strokes import (
    LEAD,
    Rows,
    fade_out,
    good_size,
    highpass_response,
    levels_rms,
    split,
    starts,
    synthesise,
    to_db,
)


@dataclass(frozen=True)
class PlacedStrokes:
    """Strokes ready to be added to a take: ``rows.head[i]`` begins at sample ``first[i]``.

    ``time_s`` and ``level_db`` are what the definitions give on each stroke alone.
    """

    rows: Rows
    first: NDArray[np.int64]
    time_s: Floats
    level_db: Floats

    @property
    def peaks(self) -> Floats:
        """Return each stroke's highest sample.

        Returns
        -------
        Of shape (n_strokes,).
        """
        return np.asarray(np.max(np.abs(self.rows.head), axis=1))


def place(rows: Rows, time_s: Floats, level_db: Floats, rate_hz: int) -> PlacedStrokes:
    """Move and scale each row so that it starts at its time and has its level.

    The shift by a part of a sample is exact for a band-limited sound (phase in the
    spectrum); a tail, which holds no start, moves by whole samples. Start and level are
    measured again on the shifted sound.

    Parameters
    ----------
    rows, time_s, level_db
        Strokes, where each is to start, s, and its level, dB; the last two of shape (n_strokes,).
    """
    n = rows.head.shape[1]
    n_fft = good_size(n + round(0.02 * rate_hz))
    highpass = highpass_response(rate_hz, n_fft)
    spectrum = np.fft.rfft(rows.head, n_fft)
    at = time_s * rate_hz - starts(np.fft.irfft(spectrum * highpass, n_fft)[:, :n])
    first = np.floor(at).astype(np.int64)
    bins = np.arange(n_fft // 2 + 1) / n_fft
    spectrum *= np.exp(-2j * np.pi * bins[None, :] * (at - first)[:, None])
    moved = np.fft.irfft(spectrum, n_fft)[:, :n]
    highpassed = np.fft.irfft(spectrum * highpass, n_fft)[:, :n]
    start = starts(highpassed)
    rms = levels_rms(highpassed, start, rate_hz)
    gain = 10 ** (level_db / 20) / rms
    placed = Rows(moved * gain[:, None], rows.tail * gain[:, None].astype(np.float32), rows.tail_from)
    return PlacedStrokes(placed, first, (first + start) / rate_hz, to_db(rms * gain))


def add(mix: Floats, placed: PlacedStrokes) -> None:
    """Add placed strokes to a take in place; what falls outside is cut off.

    Parameters
    ----------
    mix
        The take, shape (n,); changed in place.
    """
    for head, tail, first in zip(placed.rows.head, placed.rows.tail, placed.first.tolist(), strict=True):
        _add(mix, head, first)
        _add(mix, tail, first + placed.rows.tail_from)


def _add(mix: Floats, row: NDArray[np.floating], first: int) -> None:
    begin, end = max(first, 0), min(first + len(row), len(mix))
    if begin < end:
        mix[begin:end] += row[begin - first : end - first]


Floats = NDArray[np.float64]

REFERENCE_CM = COMMON_HEIGHTS.full.aim_cm
DB_A_DECADE = 24.0  # of height
REFERENCE_VELOCITY = 0.9  # of what the drum model takes: 1 is the hardest there is
SOFTEST_VELOCITY = 0.04
START = 2 * LEAD  # samples before the stroke's own start
SEEDS: Mapping[Hand, int] = {"R": 7, "L": 11}
# The invented player's pad, struck close to the microphone: more of the stick and less of the body, so that a
# telephone's loudspeaker, which has little under 500 Hz, carries it. The hands meet it at two places.
_CLOSE = replace(
    DRUMS["pad"], contact_db=-8.0, contact_s=0.0045, modes_db=(-8.0, -6.0, 0.0, 0.0, 1.0, 0.0, -2.0, -6.0)
)
STRUCK: Mapping[Hand, Drum] = {
    "R": _CLOSE,
    "L": replace(
        _CLOSE,
        modes_hz=tuple(1.04 * hz for hz in _CLOSE.modes_hz),
        modes_db=tuple(db + (1.5 if k % 2 else -1.5) for k, db in enumerate(_CLOSE.modes_db)),
    ),
}


def level_of_height_db(height_cm: float) -> float:
    """Return how loud a stroke from a height is played.

    >>> round(level_of_height_db(REFERENCE_CM / 2), 2)
    -7.22
    """
    return DB_A_DECADE * math.log10(height_cm / REFERENCE_CM)


@dataclass(frozen=True, slots=True)
class StrokeSound:
    """One stroke: its sound, and the sample at which it starts."""

    sound: Floats
    start: int = START


def stroke_sounds(hand: Hand, level_db: float, rate_hz: int, variants: int) -> tuple[StrokeSound, ...]:
    """Build strokes that differ as one player's do: in where the pad is met, and how.

    The level of each is that of its first 10 ms, re a full stroke. A softer stroke is duller too.
    """
    velocity = np.full(variants, max(REFERENCE_VELOCITY * 10 ** (level_db / 20), SOFTEST_VELOCITY))
    rng = np.random.default_rng((SEEDS[hand], round(-100 * level_db) % 2**32))
    rows = synthesise(STRUCK[hand], velocity, np.full(variants, hand == "R"), rate_hz, rng)
    due_s, levels_db = np.full(variants, START / rate_hz), np.full(variants, level_db)
    placed = place(rows, due_s, levels_db, rate_hz)
    both = zip(placed.rows.head, placed.first.tolist(), strict=True)
    return tuple(
        StrokeSound(np.concatenate([np.zeros(max(first, 0)), row[max(-first, 0) :]])) for row, first in both
    )


OVERSAMPLED = 4  # linear reading between points this much closer
PITCH_SD = 0.004
LAYER_SD = 0.6
SHELF_SD = 0.06
LONGEST_S = 2.0
FADE_SHARE = 0.2
HEAD_S = 0.25  # holds the start and the peak


@dataclass(frozen=True)
class SampleBank:
    """Recorded strokes of one drum, soft to loud.

    Parameters
    ----------
    layers
        (samples of shape (n,), rate_hz) of each recorded blow, soft to loud.
    """

    layers: tuple[tuple[NDArray[np.floating], int], ...]

    def __post_init__(self) -> None:
        if not self.layers:
            raise WrongUse("samples: got none; must be at least one recorded hit.")
        for samples, rate_hz in self.layers:
            if samples.ndim != 1 or not len(samples) or not np.any(samples) or rate_hz <= 0:
                raise WrongUse(
                    f"samples: got shape {samples.shape} at {rate_hz} Hz; must be one channel that sounds."
                )

    @cached_property
    def _dense(self) -> tuple[tuple[Floats, float], ...]:
        return tuple(_oversample(samples, rate_hz) for samples, rate_hz in self.layers)

    def strike(self, velocity: Floats, rate_hz: int, rng: np.random.Generator) -> Rows:
        """Choose, repitch and colour one recorded blow a stroke.

        Parameters
        ----------
        velocity
            How hard, 0 to 1, shape (n_strokes,): chooses the layer, give or take a little.

        Returns
        -------
        Rows
            Heads and tails, n_strokes of each.
        """
        wanted = velocity * (len(self.layers) - 1) + LAYER_SD * rng.standard_normal(len(velocity))
        chosen = np.clip(np.rint(wanted), 0, len(self.layers) - 1).astype(np.int64)
        pitch = 1 + PITCH_SD * rng.standard_normal(len(velocity))
        shelf = SHELF_SD * rng.standard_normal((len(velocity), 1))
        n = round(min(max(len(s) / r for s, r in self.layers), LONGEST_S) * rate_hz)
        t = np.arange(n) / rate_hz
        rows = np.zeros((len(velocity), LEAD + n))
        for i, layer in enumerate(chosen):
            dense, dense_hz = self._dense[layer]
            rows[i, LEAD:] = np.interp(t * (pitch[i] * dense_hz), np.arange(len(dense)), dense, right=0.0)
        rows[:, 1:] -= shelf * rows[:, :-1]
        tail = round(FADE_SHARE * rows.shape[1])
        rows[:, -tail:] *= fade_out(tail)
        return split(rows, LEAD + round(HEAD_S * rate_hz))


def _oversample(samples: NDArray[np.floating], rate_hz: int) -> tuple[Floats, float]:
    """Read a sample between its points, by a longer spectrum; cut what is far too long."""
    cut = np.asarray(samples[: round(1.1 * LONGEST_S * rate_hz)], np.float64)
    n = 1 << (len(cut) + 256 - 1).bit_length()
    spectrum = np.fft.rfft(cut, n)
    dense = np.fft.irfft(spectrum, n * OVERSAMPLED) * OVERSAMPLED
    return dense[: len(cut) * OVERSAMPLED], float(rate_hz * OVERSAMPLED)
