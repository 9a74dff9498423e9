"""Find the moments at which something begins to sound, while it sounds.

The same bands and the same novelty as for a whole take, over the last 0.4 s. The newest 60 ms of
energies are computed anew each time, since the filters look ahead and the newest end is not yet whole;
a moment is told when it lies ``CERTAIN_S`` back.

Conventions: times in seconds from the stream's first sample; frames of half a millisecond, as in
``bands``; energies shape (n_bands, n_frames).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from math import gcd

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.bands import FRAME_HZ, Floats, band_energies, usable_bands
from evenhand.listening.cutting import Samples
from evenhand.listening.evidence import Candidates, echoes, gather
from evenhand.listening.novelty import SETTINGS, candidates, novelty

Due = Callable[[float], bool]

CERTAIN_S = 0.012
_LOOKS_BACK_S = 0.4
_ANEW_S, _SETTLES_S = 0.060, 0.034
_APART_S = 0.009
_RANGE_DB = 40.0  # what lies further below the loud hits is not a hit
_REMEMBERED = 64  # hits that say what is loud
_DUE_STRENGTH = 3.0  # enough where a note is due


class LiveMoments:
    """The last moments of a stream."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._unit = rate_hz // gcd(rate_hz, FRAME_HZ)
        self._energies: Floats = np.zeros((len(usable_bands(rate_hz)), 0), dtype=np.float32)
        self._first = 0  # frame
        self._loudest: Floats = np.zeros((len(self._energies), 1), dtype=np.float32)
        self._told_s: deque[float] = deque(maxlen=8)
        self._levels_db: deque[float] = deque(maxlen=_REMEMBERED)
        self._done_s = 0.0

    def certain(self, samples: Samples, open_from_s: float, is_due: Due) -> Candidates:
        """Return the moments that are certain by now and were not told before.

        ``samples`` are all of the stream so far, clicks taken out; what begins after ``open_from_s``
        has to wait.
        """
        self._take_in(samples)
        heard = novelty(self._energies, loudest=self._loudest)
        found = gather(self._energies, heard, candidates(heard)).moved(self._first / FRAME_HZ)
        until_s = min(len(samples) / self._rate_hz - CERTAIN_S, open_from_s)
        fresh = (found.times_s <= until_s) & (found.times_s > self._done_s - 2 * _APART_S)
        believed = found.only(fresh & self._believed(found, is_due))
        self._done_s = max(self._done_s, until_s)
        new = believed.only(np.array([self._is_new(t) for t in believed.times_s.tolist()], dtype=bool))
        self._levels_db.extend(new.level_db.tolist())
        return new

    def _is_new(self, time_s: float) -> bool:
        """Tell whether a moment was not told yet, and take note of it."""
        if any(abs(time_s - told) < _APART_S for told in self._told_s):
            return False
        self._told_s.append(time_s)
        return True

    def _believed(self, found: Candidates, is_due: Due) -> NDArray[np.bool_]:
        """Tell which candidates are blows."""
        due = np.array([is_due(t) for t in found.times_s.tolist()], dtype=bool)
        strong = found.strength > np.where(due, _DUE_STRENGTH, SETTINGS.strong)
        loud = np.ones(len(found), dtype=bool)
        if len(self._levels_db) >= 3:
            loud = found.level_db > np.percentile(np.array(self._levels_db), 90) - _RANGE_DB
        return np.asarray(strong & loud & ~echoes(found))

    def _take_in(self, samples: Samples) -> None:
        """Bring the energies up to the newest sample."""
        newest = len(samples)
        anew = max(0, newest - int(_ANEW_S * self._rate_hz))
        anew = min(anew, (self._first + self._energies.shape[1]) * self._rate_hz // FRAME_HZ)
        first = max(0, anew - int(_SETTLES_S * self._rate_hz)) // self._unit * self._unit
        first_frame = first * FRAME_HZ // self._rate_hz
        keep_from = anew * FRAME_HZ // self._rate_hz
        fresh = band_energies(samples[first:newest], self._rate_hz)[:, keep_from - first_frame :]
        old = self._energies[:, : keep_from - self._first]
        both = np.concatenate([old, fresh], axis=1)
        drop = max(0, both.shape[1] - int(_LOOKS_BACK_S * FRAME_HZ))
        self._energies, self._first = both[:, drop:], self._first + drop
        np.maximum(self._loudest, fresh.max(axis=1, keepdims=True, initial=0.0), out=self._loudest)
