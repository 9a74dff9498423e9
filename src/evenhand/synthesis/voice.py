"""The sound of a played exercise: a pad, each stroke as loud as its height makes it, the same each time.

Conventions: heights in cm, levels in dB re a stroke from the height of a full one; sounds of shape (n,).

A stick that falls from a height ``h`` strikes at a speed of ``sqrt(2 g h)``, and sound pressure goes with the
speed: the level rises by ``10 log10`` of the ratio of heights (half the height, 3 dB less).

Put strokes where they belong, to parts of a sample, and say exactly where that is.

Conventions: rows have shape (n_strokes, n_samples); times in seconds of the take; levels in dB.

Strokes from recorded samples of several velocities, given as arrays.

Conventions: layers go from soft to loud, each (samples of shape (n,), rate in Hz).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import COMMON_HEIGHTS
from evenhand.synthesis.instruments import DRUMS
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
REFERENCE_VELOCITY = 0.9  # of what the drum model takes: 1 is the hardest there is
SOFTEST_VELOCITY = 0.04
START = 2 * LEAD  # samples before the stroke's own start
ALWAYS_THE_SAME = 7  # seeds the small accidents of a stroke: every one has the same


def level_of_height_db(height_cm: float) -> float:
    """Return how loud a stroke from a height is.

    >>> round(level_of_height_db(REFERENCE_CM / 2), 2)
    -3.01
    """
    return 10 * math.log10(height_cm / REFERENCE_CM)


@dataclass(frozen=True, slots=True)
class StrokeSound:
    """One stroke: its sound, and the sample at which it starts."""

    sound: Floats
    start: int = START


def stroke_sound(hand: Hand, level_db: float, rate_hz: int) -> StrokeSound:
    """Build one stroke; its level is that of the first 10 ms, re a full stroke of the right hand.

    A softer stroke is duller too, as on a drum. The sticks of the two hands sound a little different.
    """
    velocity = np.array([max(REFERENCE_VELOCITY * 10 ** (level_db / 20), SOFTEST_VELOCITY)])
    rng = np.random.default_rng(ALWAYS_THE_SAME)
    rows = synthesise(DRUMS["pad"], velocity, np.array([hand == "R"]), rate_hz, rng)
    placed = place(rows, np.array([START / rate_hz]), np.array([level_db]), rate_hz)
    first = int(placed.first[0])
    ahead = np.zeros(max(first, 0))
    return StrokeSound(np.concatenate([ahead, placed.rows.head[0][max(-first, 0) :]]))


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
