"""Put strokes where they belong, to parts of a sample, and say exactly where that is.

Conventions: rows have shape (n_strokes, n_samples); times in seconds of the take; levels in dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.sound.onset import good_size, highpass_response, levels_rms, starts, to_db
from evenhand.sound.strokes import Rows

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Placed:
    """Strokes ready to be added to a take: ``rows.head[i]`` begins at sample ``first[i]``.

    ``time_s`` and ``level_db`` are what the definitions give on each stroke alone.
    """

    rows: Rows
    first: NDArray[np.int64]
    time_s: Floats
    level_db: Floats

    @property
    def peaks(self) -> Floats:
        """Return each stroke's highest sample, shape (n_strokes,)."""
        return np.asarray(np.max(np.abs(self.rows.head), axis=1))


def place(rows: Rows, time_s: Floats, level_db: Floats, rate_hz: int) -> Placed:
    """Move and scale each row so that it starts at its time and has its level.

    The shift by a part of a sample is exact for a band-limited sound (phase in the
    spectrum); a tail, which holds no start, moves by whole samples. Start and level are
    measured again on the shifted sound.
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
    return Placed(placed, first, (first + start) / rate_hz, to_db(rms * gain))


def add(mix: Floats, placed: Placed) -> None:
    """Add placed strokes to a take in place; what falls outside is cut off."""
    for head, tail, first in zip(placed.rows.head, placed.rows.tail, placed.first.tolist(), strict=True):
        _add(mix, head, first)
        _add(mix, tail, first + placed.rows.tail_from)


def _add(mix: Floats, row: NDArray[np.floating], first: int) -> None:
    begin, end = max(first, 0), min(first + len(row), len(mix))
    if begin < end:
        mix[begin:end] += row[begin - first : end - first]
