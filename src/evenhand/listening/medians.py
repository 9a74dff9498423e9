"""Medians by partial sorting.

``numpy.median`` gives the same figures, but loads numpy's masked arrays on its first
use, which a short command waits for. Values must be numbers (no NaN) and not empty.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Kind = TypeVar("Kind", bound=np.floating[Any])


def median(values: NDArray[np.floating[Any]]) -> float:
    """Return the middle value, or the mean of the two middle ones.

    >>> median(np.array([4.0, 1.0, 3.0, 2.0]))
    2.5
    """
    return float(medians(values.reshape(-1, 1))[0])


def medians(values: NDArray[Kind]) -> NDArray[Kind]:
    """Return the median of each column."""
    half = len(values) // 2
    middle = [half] if len(values) % 2 else [half - 1, half]
    return np.asarray(np.partition(values, middle, axis=0)[middle].mean(axis=0), dtype=values.dtype)
