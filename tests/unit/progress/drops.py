"""Blows of dropped sticks for tests, as a perfect ear has them."""

from __future__ import annotations

import numpy as np

from evenhand.arrays import Floats
from evenhand.progress.bounce.judge import BlowsOfDrop

G_CM = 980.665


def falling(height_cm: float, kept: float, blows: int, start_s: float = 1.0) -> Floats:
    """Return the times of a stick's blows that keeps exactly so much: T_k = 2 e^(k+1) sqrt(2 h / g)."""
    flights = 2 * np.sqrt(2 * height_cm / G_CM) * kept ** np.arange(1, blows)
    return np.concatenate([[start_s], start_s + np.cumsum(flights)])


def blows_of(times_s: Floats, after_s: tuple[float, ...] = ()) -> BlowsOfDrop:
    """Give blows numbers from 0, none left out."""
    return BlowsOfDrop(times_s, np.arange(len(times_s)), np.array(after_s))
