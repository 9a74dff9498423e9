"""What the smooth tempo does to a player's timing.

Without a click, timing is judged against a local straight line of time over position: tricube weights, 16
notes to either side. The line follows the player a little, so a deviation is smaller than the player's own
scatter, and neighbours hang together. Both are linear, so they can be allowed for exactly.

Conventions: positions are counted in notes; matrices have shape (n, n), rows give one deviation each.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

NOTES_TO_EITHER_SIDE = 16


def tricube(distance_notes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the weight of a note this far away; nothing from 17 notes on."""
    return np.asarray((1 - np.minimum(np.abs(distance_notes) / (NOTES_TO_EITHER_SIDE + 1), 1.0) ** 3) ** 3)


@lru_cache(maxsize=64)
def deviation_matrix(n: int) -> NDArray[np.float64]:
    """Return the matrix that turns n evenly written hit times into deviations from their smooth tempo."""
    at = np.arange(n, dtype=np.float64)
    away = at[None, :] - at[:, None]
    weight = tricube(away)
    s0, s1, s2 = weight.sum(1), (weight * away).sum(1), (weight * away**2).sum(1)
    line = weight * (s2[:, None] - s1[:, None] * away) / np.maximum(s0 * s2 - s1**2, 1e-12)[:, None]
    return np.asarray(np.eye(n) - line)
