"""A minute of single strokes: how many, heard and unheard, how fast and evenly they go, whether they tire.

Conventions: stroke times in seconds from the first decoded sample, rising, shape (n,); ``numbers`` count
strokes by the train's own beat, from 0; even and odd ones are the two hands in turn, but which hand is which
the sound does not tell. ``heard`` tells which times were heard and not reckoned. Intervals in ms, rates in
strokes a second. ``curve`` is how much every half millisecond stands out, None where blows are known exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import ArrayTable, Bools, Floats, Ints
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Hand
from evenhand.progress.minute.train import FRAME_HZ, Curve, Train, due
from evenhand.progress.statistics import slope_of, t_975
from evenhand.take import InputFacts

WINDOW_S = 2.0
SECONDS_A_MINUTE = 60.0
FEWEST_PAIRS = 8
_BLOCK = 16  # strokes over which a mean's error is read: neighbours hang together
_PASS_OVER = 1.7  # beats: a longer interval is a stop or a stroke left out


@dataclass(frozen=True, slots=True)
class TimedStrokes(ArrayTable):
    """Strokes in order of time. ``level_db`` is not a number where a stroke was not heard."""

    times_s: Floats
    numbers: Ints
    heard: Bools
    level_db: Floats


def rate_over_time(strokes: TimedStrokes) -> tuple[Floats, Floats]:
    """Return the middle of each two seconds, and the strokes a second in it.

    By the time from its first stroke to the first after it, so that no stroke is cut in two.

    Returns
    -------
    seconds, and strokes a second; each shape (n_windows,)
    """
    t = strokes.times_s
    count = int((t[-1] - t[0]) / WINDOW_S) if len(t) > 1 else 0
    edges = t[0] + WINDOW_S * np.arange(count + 1)
    at = np.minimum(np.searchsorted(t, edges - 1e-9), len(t) - 1)
    first, last = at[:-1], at[1:]
    span = t[last] - t[first]
    good = (last > first) & (span > 0)
    return (edges[:-1] + WINDOW_S / 2)[good], ((last - first)[good] / span[good])


def tiring(strokes: TimedStrokes) -> Measure:
    """Return how the rate changes: strokes a second, each minute; negative slows down."""
    at, rate = rate_over_time(strokes)
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


def _intervals(strokes: TimedStrokes) -> _Intervals:
    """Return the intervals that one hand's stroke and the other's span."""
    step = np.diff(strokes.times_s)
    usual = float(np.median(step)) if len(step) else 1.0
    good = (
        strokes.heard[1:] & strokes.heard[:-1] & (np.diff(strokes.numbers) == 1) & (step < _PASS_OVER * usual)
    )
    return _Intervals(1e3 * step[good], strokes.numbers[:-1][good] % 2 == 1, strokes.times_s[:-1][good])


def interval_ms(strokes: TimedStrokes) -> Measure:
    """Return the mean time from stroke to stroke."""
    ms = _intervals(strokes).ms
    if len(ms) < FEWEST_PAIRS:
        return Measure(None, len(ms), "ms", None, FEWEST_PAIRS)
    return _around(float(ms.mean()), [ms[cut].mean() for cut in _blocks(len(ms))], len(ms), "ms")


def _blocks(n: int) -> list[Ints]:
    """Cut so many values into blocks of neighbours, since neighbours hang together."""
    return np.array_split(np.arange(n), max(min(n // _BLOCK, 60), 4))


def interval_sd_ms(strokes: TimedStrokes) -> Measure:
    """Return the spread of intervals about each hand's own and about the slow change of the rate."""
    rest = _about_trend(_intervals(strokes))
    n = len(rest)
    if n < FEWEST_PAIRS:
        return Measure(None, n, "ms", None, FEWEST_PAIRS)
    variance = float(rest @ rest) / max(n - 3, 1)
    blocks = max(n // _BLOCK, 4)
    parts = np.array([np.mean(part**2) for part in np.array_split(rest, blocks)])
    error = t_975(blocks - 1) * float(parts.std(ddof=1)) / math.sqrt(blocks) / max(variance, 1e-12)
    reach = math.exp(min(error, 3.0) / 2)
    sd = math.sqrt(variance)
    return Measure(sd, n, "ms", (sd / reach, sd * reach))


def _about_trend(intervals: _Intervals) -> Floats:
    """Take each hand's mean and a smooth trend out of intervals."""
    ms = intervals.ms.copy()
    if len(ms) < FEWEST_PAIRS:
        return ms
    for odd in (True, False):
        own = intervals.odd == odd
        if own.any():
            ms[own] -= ms[own].mean()
    at = intervals.at_s - intervals.at_s.mean()
    return np.asarray(ms - np.polynomial.Polynomial.fit(at, ms, 2 if len(ms) > 24 else 1)(at))


def alternation_ms(strokes: TimedStrokes) -> Measure:
    """Return how much longer intervals after odd strokes are than those after even ones."""
    intervals = _intervals(strokes)
    return _difference(intervals.ms, intervals.odd, "ms")


def second_hand_late_ms(strokes: TimedStrokes) -> Measure:
    """Return how late odd strokes come against the middle between their neighbours: half the alternation."""
    whole = alternation_ms(strokes)
    if whole.value is None or whole.ci95 is None:
        return whole
    low, high = whole.ci95
    return Measure(-whole.value / 2, whole.n, "ms", (-high / 2, -low / 2))


def level_difference_db(strokes: TimedStrokes) -> Measure:
    """Return how much louder odd strokes are than even ones."""
    known = strokes.heard & np.isfinite(strokes.level_db)
    return _difference(strokes.level_db[known], strokes.numbers[known] % 2 == 1, "dB")


def _difference(values: Floats, odd: Bools, unit: str) -> Measure:
    """Return the mean of odd less even; its error is read from blocks of neighbours."""
    n = int(min(odd.sum(), (~odd).sum()))
    if n < FEWEST_PAIRS:
        return Measure(None, n, unit, None, FEWEST_PAIRS)
    parts = [
        values[cut][odd[cut]].mean() - values[cut][~odd[cut]].mean()
        for cut in _blocks(len(values))
        if odd[cut].any() and (~odd[cut]).any()
    ]
    return _around(float(values[odd].mean() - values[~odd].mean()), parts, len(values), unit)


def _around(value: float, parts: list[float], n: int, unit: str) -> Measure:
    """Give a figure the interval that its parts show."""
    if len(parts) < 2:
        return Measure(value, n, unit, None)
    reach = t_975(len(parts) - 1) * float(np.std(parts, ddof=1)) / math.sqrt(len(parts))
    return Measure(value, n, unit, (value - reach, value + reach))


RECORD_STROKES, RECORD_SECONDS = 1208, 60  # fastest single strokes in a minute, 2013: from memory
RECORD_PER_S = RECORD_STROKES / RECORD_SECONDS


@dataclass(frozen=True, slots=True)
class HeardMinute:
    """The strokes of one take, or of its first ``asked_s`` seconds of playing.

    ``strokes`` counts all: ``hidden`` of them were not heard by themselves but must have been played, since
    the train goes on through them. ``left_out_s`` are moments when a stroke was due and none was played.
    ``whole`` tells whether the take lasts as long as was asked; else ``per_minute`` is reckoned from
    its rate. ``rate_per_s`` are (middle of the window, strokes a second).
    """

    input: InputFacts
    asked_s: float
    start_s: float
    strokes: int
    hidden: int
    left_out_s: tuple[float, ...]
    seconds: float
    per_minute: float
    whole: bool
    stops: int
    rate_per_s: tuple[tuple[float, float], ...]
    tiring_per_minute: Measure  # strokes a second, each minute; negative slows down
    interval_ms: Measure
    interval_sd_ms: Measure  # about the two hands' own intervals and the slow change of the rate
    alternation_ms: Measure  # interval after odd strokes less that after even ones
    second_hand_late_ms: Measure  # odd strokes against the middle between their neighbours
    level_difference_db: Measure  # odd strokes less even ones
    first_hand: Hand | None
    name: str
    version: str
    warnings: tuple[str, ...] = ()


_ABOUT = 0.13  # of a beat, around where a stroke was due
_HIDES_SHARE = 0.02  # of the strokes: a train that hides more hides many
_FAINT_ONCE, _FAINT_OFTEN, _FAINT_END, _RARER = 1.5, 0.9, 1.2, 0.25


@dataclass(frozen=True, slots=True)
class Counted:
    """The strokes of a train, heard ones and hidden ones, in order of time; shape (n_strokes,).

    ``due`` are strokes that were due and are taken for not played: a gap with nothing in it.
    """

    times_s: Floats
    numbers: Ints
    heard: Bools
    due_s: Floats


def count_strokes(times_s: Floats, train: Train, curve: Curve | None) -> Counted:
    """Decide of every stroke that was due and not heard whether it was played.

    Where hits stand out so little that others may be hidden (a drum that rings, a hand far softer), a
    single gap says nothing, and what was due is counted; elsewhere a stroke must show itself at least
    faintly.

    Parameters
    ----------
    times_s : shape (n_candidates,), seconds
    train : what was followed through them
    curve : shape (n_frames,), novelty; None where blows are known exactly
    """
    due_s, numbers, gap = due(times_s, train)
    shown = _shown(due_s, train, curve)
    least = _FAINT_OFTEN if train.hides else _FAINT_ONCE
    lone = np.bincount(gap, minlength=len(train.hits))[gap] == 1
    mean = np.bincount(gap, weights=shown)[gap] / np.maximum(np.bincount(gap)[gap], 1) if len(gap) else shown
    played = (mean > least) | (train.hides & lone) if curve is not None else np.zeros(len(due_s), dtype=bool)
    heard_s = times_s[train.hits]
    ends_s, ends = _beyond(heard_s, train, numbers, curve) if curve is not None else (due_s[:0], numbers[:0])
    at = np.concatenate([heard_s, due_s[played], ends_s])
    which = np.concatenate([train.numbers, numbers[played], ends])
    heard = np.arange(len(at)) < len(heard_s)
    order = np.argsort(at, kind="stable")
    return Counted(at[order], which[order], heard[order], due_s[~played])


def _shown(due_s: Floats, train: Train, curve: Curve | None) -> Floats:
    """Return how much stands out about each moment."""
    if curve is None or not len(due_s):
        return np.zeros(len(due_s))
    reach = round(_ABOUT * float(np.median(train.beat_s)) * FRAME_HZ)
    frames = np.round(due_s * FRAME_HZ).astype(np.intp)[:, None] + np.arange(-reach, reach + 1)
    return np.asarray(curve[np.clip(frames, 0, len(curve) - 1)].max(axis=1), dtype=np.float64)


def _beyond(heard_s: Floats, train: Train, hidden: Ints, curve: Curve) -> tuple[Floats, Ints]:
    """Return hidden strokes just before the first and just after the last that was heard.

    One must stand out the more, the fewer strokes of its hand were hidden in the train.
    """
    times, numbers = [], []
    for k, step in ((0, -1), (-1, 1)):
        number = int(train.numbers[k])
        odd = train.offset * ((number + step) % 2 - number % 2)
        at = float(heard_s[k] + (step + odd) * train.beat_s[k])
        parity = (number + step) % 2
        of_hand = int((hidden % 2 == parity).sum())
        share = of_hand / max(of_hand + int((train.numbers % 2 == parity).sum()), 1)
        if share < _HIDES_SHARE or at <= 0:
            continue
        if _shown(np.array([at]), train, curve)[0] > _FAINT_END + _RARER * math.log((1 - share) / share):
            times.append(at)
            numbers.append(number + step)
    return np.array(times), np.array(numbers, dtype=np.int64)
