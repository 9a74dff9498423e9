"""Put strokes where they belong, to parts of a sample, and say exactly where that is.

Conventions: rows have shape (n_strokes, n_samples); times in seconds of the take; levels in dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.sound.onset import good_size, highpass_response, levels_rms, starts, to_db

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Placed:
    """Strokes ready to be added to a take: ``rows[i]`` begins at sample ``first[i]``.

    ``time_s`` and ``level_db`` are what the definitions give on ``rows``, each alone.
    """

    rows: Floats
    first: NDArray[np.int64]
    time_s: Floats
    level_db: Floats


def place(rows: Floats, time_s: Floats, level_db: Floats, rate_hz: int) -> Placed:
    """Move and scale each row so that it starts at its time and has its level.

    The shift by a part of a sample is exact for a band-limited sound (phase in the
    spectrum). Start and level are measured again on the shifted sound.
    """
    n = rows.shape[1]
    n_fft = good_size(n + round(0.02 * rate_hz))
    highpass = highpass_response(rate_hz, n_fft)
    spectrum = np.fft.rfft(rows, n_fft)
    at = time_s * rate_hz - starts(np.fft.irfft(spectrum * highpass, n_fft)[:, :n])
    first = np.floor(at).astype(np.int64)
    bins = np.arange(n_fft // 2 + 1) / n_fft
    spectrum *= np.exp(-2j * np.pi * bins[None, :] * (at - first)[:, None])
    moved = np.fft.irfft(spectrum, n_fft)[:, :n]
    highpassed = np.fft.irfft(spectrum * highpass, n_fft)[:, :n]
    start = starts(highpassed)
    rms = levels_rms(highpassed, start, rate_hz)
    gain = 10 ** (level_db / 20) / rms
    return Placed(moved * gain[:, None], first, (first + start) / rate_hz, to_db(rms * gain))


def add(mix: Floats, placed: Placed) -> None:
    """Add placed strokes to a take in place; what falls outside is cut off."""
    for row, first in zip(placed.rows, placed.first, strict=True):
        begin, end = max(int(first), 0), min(int(first) + len(row), len(mix))
        if begin < end:
            mix[begin:end] += row[begin - int(first) : end - int(first)]
