"""How fast and how evenly a train of strokes goes.

Conventions: stroke times in seconds, rising, shape (n,); ``numbers`` count strokes by the train's own beat;
``heard`` tells which times were heard and not reckoned. Intervals in ms.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.measures import Measure
from evenhand.practising.mixtures import t_975
from evenhand.practising.trends import slope_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WINDOW_S = 2.0
SECONDS_A_MINUTE = 60.0
FEWEST_PAIRS = 8
_BLOCK = 16  # strokes over which a mean's doubt is read: neighbours hang together
_PASS_OVER = 1.7  # beats: a longer interval is a stop or a stroke left out


@dataclass(frozen=True, slots=True)
class Strokes:
    """Strokes in order of time. ``level_db`` is not a number where a stroke was not heard."""

    times_s: Floats
    numbers: Ints
    heard: Bools
    level_db: Floats


def rate_course(strokes: Strokes) -> tuple[Floats, Floats]:
    """Return the middle of each two seconds, and the strokes a second in it.

    By the time from its first stroke to the first after it, so that no stroke is cut in two.
    """
    t = strokes.times_s
    count = int((t[-1] - t[0]) / WINDOW_S) if len(t) > 1 else 0
    edges = t[0] + WINDOW_S * np.arange(count + 1)
    at = np.minimum(np.searchsorted(t, edges - 1e-9), len(t) - 1)
    first, last = at[:-1], at[1:]
    span = t[last] - t[first]
    good = (last > first) & (span > 0)
    return (edges[:-1] + WINDOW_S / 2)[good], ((last - first)[good] / span[good])


def tiring(strokes: Strokes) -> Measure:
    """Return how the rate changes: strokes a second, each minute; negative slows down."""
    at, rate = rate_course(strokes)
    slope = slope_of(at / SECONDS_A_MINUTE, rate)
    if slope is None:
        return Measure(None, len(rate), "strokes/s/min", None, 6)
    return Measure(slope.value, slope.n, "strokes/s/min", slope.ci95)


@dataclass(frozen=True, slots=True)
class _Intervals:
    """Intervals between neighbours that were both heard, ms, and whether an odd stroke opens them."""

    ms: Floats
    odd: Bools
    at_s: Floats


def _intervals(strokes: Strokes) -> _Intervals:
    """Return the intervals that one hand's stroke and the other's span."""
    step = np.diff(strokes.times_s)
    usual = float(np.median(step)) if len(step) else 1.0
    good = (
        strokes.heard[1:] & strokes.heard[:-1] & (np.diff(strokes.numbers) == 1) & (step < _PASS_OVER * usual)
    )
    return _Intervals(1e3 * step[good], strokes.numbers[:-1][good] % 2 == 1, strokes.times_s[:-1][good])


def interval_ms(strokes: Strokes) -> Measure:
    """Return the mean time from stroke to stroke."""
    ms = _intervals(strokes).ms
    return _mean(ms, "ms")


def interval_sd_ms(strokes: Strokes) -> Measure:
    """Return the spread of intervals about each hand's own and about the slow course of the rate."""
    rest = _about_course(_intervals(strokes))
    n = len(rest)
    if n < FEWEST_PAIRS:
        return Measure(None, n, "ms", None, FEWEST_PAIRS)
    variance = float(rest @ rest) / max(n - 3, 1)
    blocks = max(n // _BLOCK, 4)
    parts = np.array([np.mean(part**2) for part in np.array_split(rest, blocks)])
    doubt = t_975(blocks - 1) * float(parts.std(ddof=1)) / math.sqrt(blocks) / max(variance, 1e-12)
    reach = math.exp(min(doubt, 3.0) / 2)
    sd = math.sqrt(variance)
    return Measure(sd, n, "ms", (sd / reach, sd * reach))


def _about_course(intervals: _Intervals) -> Floats:
    """Take each hand's mean and a smooth course out of intervals."""
    ms = intervals.ms.copy()
    if len(ms) < FEWEST_PAIRS:
        return ms
    for odd in (True, False):
        own = intervals.odd == odd
        if own.any():
            ms[own] -= ms[own].mean()
    at = intervals.at_s - intervals.at_s.mean()
    return np.asarray(ms - np.polynomial.Polynomial.fit(at, ms, 2 if len(ms) > 24 else 1)(at))


def alternation_ms(strokes: Strokes) -> Measure:
    """Return how much longer intervals after odd strokes are than those after even ones."""
    intervals = _intervals(strokes)
    return _difference(intervals.ms, intervals.odd, "ms")


def second_hand_late_ms(strokes: Strokes) -> Measure:
    """Return how late odd strokes come against the middle between their neighbours: half the alternation."""
    whole = alternation_ms(strokes)
    if whole.value is None or whole.ci95 is None:
        return whole
    low, high = whole.ci95
    return Measure(-whole.value / 2, whole.n, "ms", (-high / 2, -low / 2))


def level_difference_db(strokes: Strokes) -> Measure:
    """Return how much louder odd strokes are than even ones."""
    known = strokes.heard & np.isfinite(strokes.level_db)
    return _difference(strokes.level_db[known], strokes.numbers[known] % 2 == 1, "dB")


def _difference(values: Floats, odd: Bools, unit: str) -> Measure:
    """Return the mean of odd less even; its doubt is read from blocks of neighbours."""
    n = int(min(odd.sum(), (~odd).sum()))
    if n < FEWEST_PAIRS:
        return Measure(None, n, unit, None, FEWEST_PAIRS)
    signed = np.where(odd, values, -values)
    value = float(values[odd].mean() - values[~odd].mean())
    blocks = max(min(len(values) // _BLOCK, 60), 4)
    parts = [
        values[cut][odd[cut]].mean() - values[cut][~odd[cut]].mean()
        for cut in np.array_split(np.arange(len(signed)), blocks)
        if odd[cut].any() and (~odd[cut]).any()
    ]
    return _around(value, np.array(parts), len(values), unit)


def _mean(values: Floats, unit: str) -> Measure:
    """Return a mean, its doubt read from blocks of neighbours."""
    if len(values) < FEWEST_PAIRS:
        return Measure(None, len(values), unit, None, FEWEST_PAIRS)
    blocks = max(min(len(values) // _BLOCK, 60), 4)
    return _around(
        float(values.mean()), np.array([p.mean() for p in np.array_split(values, blocks)]), len(values), unit
    )


def _around(value: float, parts: Floats, n: int, unit: str) -> Measure:
    """Give a figure the doubt that its parts show."""
    if len(parts) < 2:
        return Measure(value, n, unit, None)
    reach = t_975(len(parts) - 1) * float(parts.std(ddof=1)) / math.sqrt(len(parts))
    return Measure(value, n, unit, (value - reach, value + reach))
