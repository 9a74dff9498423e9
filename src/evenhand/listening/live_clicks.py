"""Take a click out of a stream while it sounds, where it is known when it is due.

The first clicks, which sound alone, say how much later than due they are heard and what they sound
like; each further one is laid against the stream by that sound, and taken out.

Conventions: times in seconds of the stream; a click's mark and its sound as in ``click_sound``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.cutting import Samples
from evenhand.listening.evidence import Candidates

_FAR_S = 0.080  # a click may be heard so much later or earlier than due, before any was heard
_NEAR_S = 0.025


class LiveClicks:
    """The clicks of a stream that are due."""

    def __init__(
        self, samples: Samples, rate_hz: int, due_s: Sequence[float], *, until_s: float | None
    ) -> None:
        self._samples, self._rate_hz = samples, rate_hz
        self._due_s = np.sort(np.asarray(due_s, dtype=np.float64))
        self._alone_until_s = until_s
        self.later_s = 0.0
        self.open_from_s = np.inf

    def cleaned(self) -> Samples:
        """Return the stream so far with the clicks taken out."""
        return self._samples

    def is_no_click(self, found: Candidates) -> NDArray[np.bool_]:
        """Tell which candidates are no clicks."""
        return np.array([self._away_s(t) > _NEAR_S for t in found.times_s.tolist()], dtype=bool)

    def _away_s(self, time_s: float) -> float:
        """Return how far the nearest click is due."""
        return float(np.abs(self._due_s - time_s).min(initial=np.inf))
