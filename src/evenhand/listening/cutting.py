"""Cut pieces of sound out of a take.

Conventions: ``samples`` shape (n,), full scale 1.0, or anything that is sliced like
it; rows are float32; what lies outside the take is silence.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]


class Samples(Protocol):
    """Samples in memory or on disk."""

    def __len__(self) -> int: ...

    def __getitem__(self, key: slice, /) -> NDArray[np.float32]: ...


def rows(samples: Samples, first: NDArray[np.intp], length: int) -> Floats:
    """Return a row of samples from each first sample on, shape (n_rows, length)."""
    total = len(samples)
    if isinstance(samples, np.ndarray) and len(first) and first.min() >= 0 and first.max() + length <= total:
        return np.asarray(samples[first[:, None] + np.arange(length)], dtype=np.float32)
    out = np.zeros((len(first), length), dtype=np.float32)
    for row, start in zip(out, first.tolist(), strict=True):
        piece = samples[max(start, 0) : max(min(start + length, total), 0)]
        row[max(-start, 0) : max(-start, 0) + len(piece)] = piece
    return out


def highpass_response(length: int, rate_hz: int, cutoff_hz: float) -> NDArray[np.complex64]:
    """Return the response of a second-order Butterworth highpass (bilinear) on rfft bins."""
    warped = np.tan(np.pi * cutoff_hz / rate_hz)
    z = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)
    norm = 1 + np.sqrt(2) * warped + warped**2
    top = (1 - 2 * z + z**2) / norm
    bottom = 1 + 2 * (warped**2 - 1) / norm * z + (1 - np.sqrt(2) * warped + warped**2) / norm * z**2
    return np.asarray(top / bottom, dtype=np.complex64)


def quick_length(at_least: int) -> int:
    """Return the next length with small prime factors only."""
    best = 1 << (at_least - 1).bit_length()
    for odd in (3, 5, 9, 15, 25, 27, 45, 75):
        size = odd << max(0, (-(-at_least // odd) - 1).bit_length())
        if at_least <= size < best:
            best = size
    return best
