"""Find onsets while they sound, and time and weigh each blow by its first hundredth of a second.

The bands and the novelty of a whole take, over the last tenth of a second; the newest energies are measured
anew each time, since the filters look ahead. A blow's time is the lowest share of its peak that is seen to be
crossed, less what the blows so far needed from 1 % up to there: as for a whole take, without the fit.

Conventions: times in seconds from the stream's first sample; frames of half a millisecond; energies shape
(n_bands, n_frames); levels in dB re full scale, of the first 10 ms above 200 Hz.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, Singles
from evenhand.hearing.onsets.attack import SHARES, delays, find_rise, highpassed, levels
from evenhand.hearing.onsets.bands import (
    FRAME_HZ,
    SETTINGS,
    Novelty,
    block_energies,
    novelty,
    peak_frames,
    quick_length,
    sharpened,
    usable_bands,
    whole_frames,
)
from evenhand.hearing.onsets.candidates import Candidates, echoes, gather
from evenhand.take import Samples

OffDue = Callable[[float], float]

CERTAIN_S = 0.012  # what shows its rise is reported so much later
DOUBTFUL_S = 0.020  # and what does not
_OLDEST_S = 0.050  # no onset is reported later than that
_LOOKS_BACK_S = 0.110
_ANEW_S, _SETTLES_S = 0.054, 0.016
_APART_S = 0.009
_FORESHADOW_S, _FORESHADOW_DB = 0.014, 4.0
_RANGE_DB = 40.0  # what lies further below the loud hits is not a hit
_REMEMBERED, _LEAST = 64, 3  # hits that say what is loud
_ECHO_OFF = 0.3  # share of that; nearer, what sounds like a louder blow's echo may be a note
_DUE_STRENGTH, _DUE_S = 2.5, 0.040  # enough where a note is due; and how far off it is no more


class LiveOnsets:
    """The newest onsets of a stream."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._unit, _ = whole_frames(rate_hz)
        self._settles = int(_SETTLES_S * rate_hz)
        self._energies: Singles = np.zeros((len(usable_bands(rate_hz)), 0), dtype=np.float32)
        self._first = 0  # frame
        self._loudest: Singles = np.zeros((len(self._energies), 1), dtype=np.float32)
        none, colours = np.zeros(0), np.zeros((0, len(self._energies)))
        self._none = Candidates(none, none, none, colours)
        self._known_s: deque[float] = deque(maxlen=32)
        self._levels_db: deque[float] = deque(maxlen=_REMEMBERED)
        self._loud_db = -np.inf

    def fresh(self, samples: Samples, open_from_s: float, off_due_s: OffDue | None) -> Candidates:
        """Return the onset candidates, ``CERTAIN_S`` old or more, that were not reported before.

        ``samples``, shape (n,), are all of the stream so far, clicks taken out; what begins after
        ``open_from_s`` has to wait. ``off_due_s`` says how far from a time a note is due.
        """
        self._take_in(samples)
        heard = novelty(self._energies, loudest=self._loudest)
        newest_s, peaks = len(samples) / self._rate_hz, peak_frames(heard)
        if not self._has_news(heard, peaks, newest_s):
            return self._none
        found = gather(self._energies, heard, peaks).moved(self._first / FRAME_HZ)
        echo = echoes(found)
        certain = found.times_s <= min(newest_s - CERTAIN_S, open_from_s)
        fresh = certain & (found.times_s > newest_s - _OLDEST_S) & ~_foreshadows(found)
        believed = [
            i
            for i in np.flatnonzero(fresh).tolist()
            if self._believed(found, i, off_due_s, echo=bool(echo[i]))
        ]
        return found.only(np.array(believed, dtype=np.intp))

    def _has_news(self, heard: Novelty, peaks: Indices, newest_s: float) -> bool:
        """Tell whether any peak, shape (n_peaks,), may be one to report: most moments have none."""
        strong = peaks[heard.strength[peaks] > _DUE_STRENGTH]
        times_s = (self._first + 1 + sharpened(heard, strong)) / FRAME_HZ
        certain = (times_s > newest_s - _OLDEST_S) & (times_s <= newest_s - CERTAIN_S)
        return any(not self.is_known(t) for t in times_s[certain].tolist())

    def remember(self, time_s: float, level_db: float, start_s: float) -> None:
        """Take note of an onset that was reported: as it was found, its rough level, and where it starts."""
        self._known_s.extend((time_s, start_s))
        self._levels_db.append(level_db)
        if len(self._levels_db) >= _LEAST:
            self._loud_db = float(np.percentile(np.array(self._levels_db), 90))

    def is_known(self, time_s: float) -> bool:
        """Tell whether what begins here was reported already."""
        return any(abs(time_s - known_s) < _APART_S for known_s in self._known_s)

    def drop(self, time_s: float) -> None:
        """Take note of an onset that is not to be reported."""
        self._known_s.append(time_s)

    def _believed(self, found: Candidates, which: int, off_due_s: OffDue | None, *, echo: bool) -> bool:
        """Tell whether a candidate was not reported yet, stands out enough, and is not far too soft."""
        time_s = float(found.times_s[which])
        if self.is_known(time_s):
            return False
        off = 1.0 if off_due_s is None else min(off_due_s(time_s) / _DUE_S, 1.0)
        if echo and off > _ECHO_OFF:
            return False
        needed = _DUE_STRENGTH + (SETTINGS.strong - _DUE_STRENGTH) * off
        loud_enough = found.level_db[which] > self._loud_db - _RANGE_DB
        return bool(found.strength[which] > needed and loud_enough)

    def _take_in(self, samples: Samples) -> None:
        """Bring the energies up to the newest sample; the last ones are measured anew."""
        newest = len(samples)
        seen = self._first + self._energies.shape[1]
        anew = min(seen, max(0, int((newest / self._rate_hz - _ANEW_S) * FRAME_HZ)))
        first = (int(anew / FRAME_HZ * self._rate_hz) - self._settles) // self._unit * self._unit
        length = quick_length(-(-(newest - first + self._settles) // self._unit)) * self._unit
        block = _mirrored(samples[max(0, first) : newest], max(0, -first), length - (newest - first))
        frames = slice(anew - first * FRAME_HZ // self._rate_hz, (newest - first) * FRAME_HZ // self._rate_hz)
        fresh = np.array([energy[0, frames] for energy in block_energies(block[None], self._rate_hz)])
        both = np.concatenate([self._energies[:, : anew - self._first], fresh], axis=1)
        drop = max(0, both.shape[1] - int(_LOOKS_BACK_S * FRAME_HZ))
        self._energies, self._first = both[:, drop:], self._first + drop
        np.maximum(self._loudest, fresh.max(axis=1, keepdims=True, initial=0.0), out=self._loudest)


def _mirrored(block: Singles, before: int, after: int) -> Singles:
    """Return a block with so many samples before and after it; what is not known is mirrored."""
    if before == 0 and after <= len(block):  # all but the stream's first moments
        return np.concatenate([block, block[len(block) - after :][::-1]])
    return np.pad(block, (before, after), mode="symmetric")


def _foreshadows(found: Candidates) -> Bools:
    """Tell which candidates are but the filters' look ahead at a stronger one that follows at once."""
    out = np.zeros(len(found), dtype=bool)
    apart_s, louder = np.diff(found.times_s), np.diff(found.level_db) > _FORESHADOW_DB
    near = (apart_s < _APART_S) | ((apart_s < _FORESHADOW_S) & louder)
    out[:-1] = near & (np.diff(found.strength) > 0)
    return out


_LIVE_ATTACK_REMEMBERED = 48  # blows
_ENOUGH = 5
_FAINT_DB, _FIRST_STRENGTH = 36.0, 6.0


class TimedBlow(NamedTuple):
    """When a blow began, how loud it was, and whether its rise could be seen."""

    time_s: float
    level_db: float
    seen: bool


class LiveAttack:
    """What the blows so far say of how this take's sounds rise."""

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._crossed: deque[Floats] = deque(maxlen=_LIVE_ATTACK_REMEMBERED)
        self._levels_db: deque[float] = deque(maxlen=_LIVE_ATTACK_REMEMBERED)
        self._lags: deque[float] = deque(maxlen=_LIVE_ATTACK_REMEMBERED)  # from the rough time, s

    def time(self, samples: Samples, rough_s: float) -> TimedBlow:
        """Return when a blow began to sound, and its level; ``samples`` as above, shape (n,)."""
        cut = highpassed(samples, self._rate_hz, np.array([rough_s]))
        zero_s = (float(cut.first[0]) + cut.zero) / self._rate_hz
        rise = find_rise(cut.sound, cut.zero, self._rate_hz, np.zeros(1), np.full(1, np.inf))
        start_s = self._start_s(rise.crossed_s[0], rough_s - zero_s)
        level_db = float(levels(cut, np.array([start_s]))[0])
        return TimedBlow(max(0.0, zero_s + start_s), level_db, bool(~np.isnan(rise.crossed_s).all()))

    def is_faint(self, blow: TimedBlow, strength: float) -> bool:
        """Tell whether a blow whose rise is hidden may as well be noise.

        That is, where it is far softer than the loud ones; and as long as there were none, unless it
        stands out by a good ``strength``, in spreads of steady noise.
        """
        if len(self._levels_db) == 0:
            return strength < _FIRST_STRENGTH
        if len(self._levels_db) < _ENOUGH:
            return False
        return blow.level_db < float(np.percentile(np.array(self._levels_db), 90)) - _FAINT_DB

    def remember(self, blow: TimedBlow) -> None:
        """Take note of a blow that was reported."""
        self._levels_db.append(blow.level_db)

    def _start_s(self, crossed_s: Floats, rough_s: float) -> float:
        """Return where the sound starts, from the window's zero."""
        seen = np.flatnonzero(~np.isnan(crossed_s))
        if len(seen) == 0:
            return rough_s + (float(np.median(self._lags)) if len(self._lags) >= _ENOUGH else 0.0)
        self._crossed.append(crossed_s)
        delay = delays(np.array(self._crossed).reshape(-1, len(SHARES)))
        start_s = float(crossed_s[seen[0]] - delay[seen[0]])
        self._lags.append(start_s - rough_s)
        return start_s
