"""Find the moments at which something begins to sound, while it sounds.

The same bands and the same novelty as for a whole take, over the last 0.15 s. The newest 60 ms of
energies are computed anew each time, since the filters look ahead and the newest end is not yet whole.

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

OffDue = Callable[[float], float]

CERTAIN_S = 0.012  # what shows its rise is told so much later
DOUBTFUL_S = 0.020  # and what does not
_LOOKS_BACK_S = 0.15
_ANEW_S, _SETTLES_S = 0.060, 0.034
_APART_S = 0.009
_RANGE_DB = 40.0  # what lies further below the loud hits is not a hit
_REMEMBERED = 64  # hits that say what is loud
_DUE_STRENGTH, _DUE_S = 2.5, 0.040  # enough where a note is due; and how far off it is no more

_FORESHADOW_S, _FORESHADOW_DB = 0.014, 4.0


class LiveMoments:
    """The last moments of a stream."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._unit = rate_hz // gcd(rate_hz, FRAME_HZ)
        self._energies: Floats = np.zeros((len(usable_bands(rate_hz)), 0), dtype=np.float32)
        self._first = 0  # frame
        self._loudest: Floats = np.zeros((len(self._energies), 1), dtype=np.float32)
        self._told_s: deque[float] = deque(maxlen=16)
        self._levels_db: deque[float] = deque(maxlen=_REMEMBERED)

    def fresh(self, samples: Samples, open_from_s: float, off_due_s: OffDue) -> Candidates:
        """Return the moments at which something begins, ``CERTAIN_S`` ago or more, not told before.

        ``samples`` are all of the stream so far, clicks taken out; what begins after ``open_from_s``
        has to wait. ``off_due_s`` says how far from a moment a note is due.
        """
        self._take_in(samples)
        heard = novelty(self._energies, loudest=self._loudest)
        found = gather(self._energies, heard, candidates(heard)).moved(self._first / FRAME_HZ)
        newest_s = len(samples) / self._rate_hz
        recent = found.times_s > newest_s - _ANEW_S + DOUBTFUL_S
        certain = found.times_s <= min(newest_s - CERTAIN_S, open_from_s)
        new = np.array([self._is_new(t) for t in found.times_s.tolist()], dtype=bool)
        fresh = recent & certain & new & ~echoes(found)
        return found.only(fresh & self._believed(found, off_due_s))

    def tell(self, time_s: float, level_db: float) -> None:
        """Take note of a moment that was told, and of its rough level."""
        self._told_s.append(time_s)
        self._levels_db.append(level_db)

    def drop(self, time_s: float) -> None:
        """Take note of a moment that is not to be told."""
        self._told_s.append(time_s)

    def _is_new(self, time_s: float) -> bool:
        """Tell whether a moment was not told yet."""
        return all(abs(time_s - told) >= _APART_S for told in self._told_s)

    def _believed(self, found: Candidates, off_due_s: OffDue) -> NDArray[np.bool_]:
        """Tell which candidates stand out enough, and are not far softer than the loud hits so far."""
        off = np.array([off_due_s(t) for t in found.times_s.tolist()]) / _DUE_S
        needed = _DUE_STRENGTH + (SETTINGS.strong - _DUE_STRENGTH) * np.minimum(off, 1)
        loud = np.ones(len(found), dtype=bool)
        if len(self._levels_db) >= 3:
            loud = found.level_db > np.percentile(np.array(self._levels_db), 90) - _RANGE_DB
        return np.asarray((found.strength > needed) & loud & ~foreshadows(found))

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


def foreshadows(found: Candidates) -> NDArray[np.bool_]:
    """Tell which candidates are but the filters' look ahead at a stronger one that follows at once."""
    out = np.zeros(len(found), dtype=bool)
    apart_s, louder = np.diff(found.times_s), np.diff(found.level_db) > _FORESHADOW_DB
    near = (apart_s < _APART_S) | ((apart_s < _FORESHADOW_S) & louder)
    out[:-1] = near & (np.diff(found.strength) > 0)
    return out
