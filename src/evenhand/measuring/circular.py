"""Circular statistics: timing as an angle in the beat.

Conventions: angles in radians, one beat is 2 pi; ``asynchronies_ms`` negative = early.
Formulas: Fisher 1993, Statistical Analysis of Circular Data.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Circular:
    """A summary of angles. ``mean`` in 0..2 pi, ``length`` is R-bar (1 = all alike), ``sd`` in radians."""

    n: int
    mean: float
    length: float
    sd: float
    rayleigh_z: float
    rayleigh_p: float


def circular(angles: ArrayLike) -> Circular:
    """Sum up angles.

    Parameters
    ----------
    angles
        Radians, shape (n,), n >= 1.

    Returns
    -------
    Circular
        With Rayleigh's test against "spread evenly over the beat" (series-corrected p).
    """
    turned = np.asarray(angles, dtype=np.float64)
    n = turned.size
    c, s = float(np.cos(turned).sum()), float(np.sin(turned).sum())
    length = min(math.hypot(c, s) / n, 1.0)
    z = n * length**2
    sd = math.sqrt(-2 * math.log(length)) if length > 0 else math.inf
    return Circular(n, math.atan2(s, c) % (2 * math.pi), length, sd, z, _rayleigh_p(z, n))


def circular_ms(asynchronies_ms: ArrayLike, beat_ms: float) -> tuple[float, float, float]:
    """Return mean (ms, negative = early), R-bar and circular SD (ms) of asynchronies in a beat."""
    summed = circular(np.asarray(asynchronies_ms, dtype=np.float64) * (2 * math.pi / beat_ms))
    signed = (summed.mean + math.pi) % (2 * math.pi) - math.pi
    ms_per_radian = beat_ms / (2 * math.pi)
    return signed * ms_per_radian, summed.length, summed.sd * ms_per_radian


def _rayleigh_p(z: float, n: int) -> float:
    """Return the chance of so large a Z among evenly spread angles (Fisher's series)."""
    first = (2 * z - z**2) / (4 * n)
    second = (24 * z - 132 * z**2 + 76 * z**3 - 9 * z**4) / (288 * n**2)
    return min(max(math.exp(-z) * (1 + first - second), 0.0), 1.0)
