"""Where things lie: a peak between samples, and how far times lie from the nearest of others.

Conventions: times in seconds, shape (n,), the marks rising.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.intp]


def peak_between(value: NDArray[np.floating], best: Ints) -> Array:
    """Return how far from its best column each row's peak lies, by a parabola, -1/2 to 1/2."""
    inner = np.clip(best, 1, value.shape[1] - 2)
    at = np.arange(len(value))
    left, mid, right = value[at, inner - 1], value[at, inner], value[at, inner + 1]
    bend = left - 2 * mid + right
    part = np.where(bend < 0, 0.5 * (left - right) / np.minimum(bend, -1e-9), 0.0)
    return np.where(inner == best, np.clip(part, -0.5, 0.5), 0.0)


def away_s(times_s: Array, marks_s: Array) -> Array:
    """Return how far each time lies from the nearest mark."""
    right = np.searchsorted(marks_s, times_s)
    after = np.abs(times_s - marks_s[np.minimum(right, len(marks_s) - 1)])
    return np.asarray(np.minimum(after, np.abs(times_s - marks_s[np.maximum(right - 1, 0)])))
