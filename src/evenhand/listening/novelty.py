"""Find where something new begins to sound.

Conventions: energies shape (n_bands, n_frames) as from ``bands``; strength shape
(n_frames,), in units of the spread that steady noise would give; candidates as
frame indices, rising. A frame lasts half a millisecond.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.bands import BANDS_HZ, FRAME_HZ, Floats

Frames = NDArray[np.intp]


_FLOOR = 1e-6  # of a band's loudest moment: below it, as good as silence


@dataclass(frozen=True, slots=True)
class NoveltySettings:
    """Windows after and before a moment (frames), and what counts.

    Chosen on generated takes of pads and snares by F1 before alignment.
    """

    windows: tuple[tuple[int, int], ...] = ((2, 12), (6, 20), (16, 32))
    bend: float = 2.0  # spreads at which a band's say begins to grow only with the logarithm
    least_for_a_band: float = -2.0
    weak: float = 2.2
    clear: float = 2.8  # speaks for itself
    strong: float = 4.2
    apart: int = 16  # frames between two candidates, 8 ms


SETTINGS = NoveltySettings()


@dataclass(frozen=True, slots=True)
class Novelty:
    """How much each moment stands out.

    That is by the best of all windows, and by the shortest
    alone, which says less surely that something began but better when. Shape (n_frames,).
    """

    strength: Floats
    sharp: Floats


def novelty(
    energies: Floats, *, settings: NoveltySettings = SETTINGS, loudest: Floats | None = None
) -> Novelty:
    """Return how much each moment stands out from what came just before.

    In each band the energy just after is set against the energy just before, in
    decibels over the spread that noise of that bandwidth would show; bands are
    summed after their say is bent, so that no single band decides, and the best of
    three window lengths is kept. ``loudest`` is each band's loudest moment, shape (n_bands, 1), where
    more was heard than is given here.
    """
    longest = max(before for _, before in settings.windows)
    reach = max(after for after, _ in settings.windows)
    most = energies.max(axis=1, keepdims=True) if loudest is None else loudest
    floor = np.float32(1e-14) + most * np.float32(_FLOOR)
    padded = np.concatenate(
        [np.repeat(energies[:, :1], longest, axis=1), energies, np.repeat(energies[:, -1:], reach, axis=1)],
        axis=1,
    )
    totals = np.zeros((len(padded), padded.shape[1] + 1))
    np.cumsum(padded + floor, axis=1, dtype=np.float64, out=totals[:, 1:])
    best = sharp = np.full(energies.shape[1], -np.inf, dtype=np.float32)
    for turn, (after, before) in enumerate(settings.windows):
        rise = _rise(totals, longest, energies.shape[1], after, before)
        rise *= (1 / _noise_spread(len(energies), after, before))[:, None]
        np.maximum(rise, settings.least_for_a_band, out=rise)
        bent = np.log1p(np.maximum(rise, 0) * np.float32(1 / settings.bend)) * np.float32(settings.bend)
        bent += np.minimum(rise, 0)
        total = bent.sum(axis=0) * np.float32(1 / np.sqrt(len(energies)))
        sharp = total if turn == 0 else sharp
        best = np.maximum(best, total)
    return Novelty(best, sharp)


def _rise(totals: NDArray[np.float64], start: int, frames: int, after: int, before: int) -> Floats:
    """Return the natural logarithm of the mean energy after each frame over the mean before it."""
    here = totals[:, start : start + frames]
    now = (totals[:, start + after : start + after + frames] - here).astype(np.float32)
    past = (here - totals[:, start - before : start - before + frames]).astype(np.float32)
    now *= np.float32(before / after)
    np.maximum(past, now * np.float32(1e-9) + np.float32(1e-25), out=past)
    np.maximum(now, np.float32(1e-25), out=now)
    now /= past
    return np.log(now)


@lru_cache
def _noise_spread(n_bands: int, after: int, before: int) -> Floats:
    """Return the standard deviation of that logarithm for noise of each band's width.

    Energy in a window of T seconds and bandwidth B is the mean of about BT + 1
    independent exponential values, so its log has variance near 1 / (BT + 1).
    """
    width = np.array([high - low for low, high in BANDS_HZ[:n_bands]], dtype=np.float64)
    variance = 1 / (width * after / FRAME_HZ + 1) + 1 / (width * before / FRAME_HZ + 1)
    return np.sqrt(variance).astype(np.float32)


def candidates(heard: Novelty, *, settings: NoveltySettings = SETTINGS) -> Frames:
    """Return the frames that may be hits: peaks of the strength, the strongest first to choose."""
    strength = heard.strength
    inner = strength[1:-1]
    peak = np.flatnonzero((inner >= strength[:-2]) & (inner > strength[2:]) & (inner > settings.weak)) + 1
    order = peak[np.argsort(-strength[peak], kind="stable")]
    taken = np.zeros(len(strength) + 2 * settings.apart, dtype=bool)
    kept = []
    for frame in order.tolist():
        if not taken[frame + settings.apart]:
            kept.append(frame)
            taken[frame + 1 : frame + 2 * settings.apart] = True
    return np.array(sorted(kept), dtype=np.intp)


def sharpened(heard: Novelty, frames: Frames, *, back: int = 6, on: int = 17) -> Frames:
    """Move each candidate to where the shortest window says it began.

    The longest window sees a beginning from up to its own length ahead, so the search
    goes further on than back.
    """
    reach = np.arange(-back, on + 1)
    around = np.clip(frames[:, None] + reach, 0, len(heard.sharp) - 1)
    value = heard.sharp[around] - np.float32(0.02) * np.abs(reach)
    return np.take_along_axis(around, value.argmax(axis=1)[:, None], axis=1)[:, 0]
