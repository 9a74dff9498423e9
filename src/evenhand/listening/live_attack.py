"""Time and weigh a blow by its first hundredth of a second.

The lowest share of the peak that is seen to be crossed, less what the take's blows so far needed
from 1 % up to there; as for a whole take, without the fit that needs all of it.

Conventions: times in seconds of the stream; levels in dB re full scale, of the first 10 ms above 200 Hz.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

import numpy as np

from evenhand.listening.attack import highpassed, levels
from evenhand.listening.cutting import Samples
from evenhand.listening.places import Array
from evenhand.listening.rising import SHARES, delays, find_rise

_REMEMBERED = 48  # blows
_ENOUGH = 5
_FAINT_DB, _FIRST_STRENGTH = 36.0, 6.0


class Blow(NamedTuple):
    """When a blow began, how loud it was, and whether its rise could be seen."""

    time_s: float
    level_db: float
    seen: bool


class LiveAttack:
    """What the blows so far say of how this take's sounds rise."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._crossed: deque[Array] = deque(maxlen=_REMEMBERED)
        self._levels_db: deque[float] = deque(maxlen=_REMEMBERED)
        self._lags: deque[float] = deque(maxlen=_REMEMBERED)  # from the rough time, s

    def time(self, samples: Samples, rough_s: float) -> Blow:
        """Return when a blow began to sound, and its level."""
        cut = highpassed(samples, self._rate_hz, np.array([rough_s]))
        zero_s = (float(cut.first[0]) + cut.zero) / self._rate_hz
        rise = find_rise(cut.sound, cut.zero, self._rate_hz, np.zeros(1), np.full(1, np.inf))
        start_s = self._start_s(rise.crossed_s[0], rough_s - zero_s)
        level_db = float(levels(cut, np.array([start_s]))[0])
        return Blow(max(0.0, zero_s + start_s), level_db, bool(~np.isnan(rise.crossed_s).all()))

    def is_faint(self, blow: Blow, strength: float) -> bool:
        """Tell whether a blow whose rise is hidden may as well be noise.

        That is, where it is far softer than the loud ones; and as long as there were none, unless it
        stands out by a good ``strength``, in spreads of steady noise.
        """
        if len(self._levels_db) == 0:
            return strength < _FIRST_STRENGTH
        if len(self._levels_db) < _ENOUGH:
            return False
        return blow.level_db < float(np.percentile(np.array(self._levels_db), 90)) - _FAINT_DB

    def tell(self, blow: Blow) -> None:
        """Take note of a blow that was told."""
        self._levels_db.append(blow.level_db)

    def _start_s(self, crossed_s: Array, rough_s: float) -> float:
        """Return where the sound starts, from the window's zero."""
        seen = np.flatnonzero(~np.isnan(crossed_s))
        if len(seen) == 0:
            return rough_s + (float(np.median(self._lags)) if len(self._lags) >= _ENOUGH else 0.0)
        self._crossed.append(crossed_s)
        delay = delays(np.array(self._crossed).reshape(-1, len(SHARES)))
        start_s = float(crossed_s[seen[0]] - delay[seen[0]])
        self._lags.append(start_s - rough_s)
        return start_s
