"""How loud a take is at each moment, and what could not have been overheard there.

Conventions: the curve has shape (n_frames,), dB re full scale; frame k is the mean over ``LASTS_S`` from
k x ``STEP_S`` on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEP_S, LASTS_S = 0.0025, 0.010
_BACKGROUND = 2.0  # per cent: the quietest of a take is its background; more would hold ringing, too


@dataclass(frozen=True, slots=True)
class Loudness:
    """The curve of one take."""

    level_db: Floats

    def loudest_db(self, start_s: float, end_s: float) -> float:
        """Return the loudest frame that begins in a stretch of time."""
        first = max(round(start_s / STEP_S), 0)
        last = max(round(end_s / STEP_S), first) + 1
        part = self.level_db[first:last]
        return float(part.max()) if len(part) else float("-inf")

    @property
    def background_db(self) -> float:
        """Return how loud the take is where nothing is struck."""
        return float(np.percentile(self.level_db, _BACKGROUND))

    @property
    def end_s(self) -> float:
        """Return where the curve ends."""
        return len(self.level_db) * STEP_S
