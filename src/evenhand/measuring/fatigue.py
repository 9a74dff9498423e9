"""Whether the take tires: the trend of timing spread and of level.

Conventions: ms a minute and dB a minute, over playing time as it went; positive = grows.
"""

from __future__ import annotations

import math

import numpy as np

from evenhand.domain.exercise import Exercise
from evenhand.domain.measures import Measure
from evenhand.measuring.estimates import around
from evenhand.measuring.hands import tap_rows
from evenhand.measuring.strokes import Floats, Ints, Strokes, group_means

FEWEST_HITS = 24  # fewer say nothing of a trend
MEAN_ABSOLUTE_TO_SD = math.sqrt(math.pi / 2)  # of a normal distribution
SECONDS_A_MINUTE = 60.0


def spread_trend(strokes: Strokes) -> Measure:
    """Return how the spread of timing grows, ms a minute.

    The slope of the hits' distances from their own note's mean, scaled to a standard deviation.
    """
    rows = np.flatnonzero(strokes.sure_timing)
    unit = "ms/min"
    if rows.size < FEWEST_HITS:
        return _too_few(rows.size, unit)
    group = _notes_or_hands(strokes, rows)
    timing = strokes.timing_ms[rows]
    away = np.abs(timing - group_means(timing, group)[group]) * MEAN_ABSOLUTE_TO_SD
    return _slope(strokes.time_s[rows] / SECONDS_A_MINUTE, away, group, unit)


def level_trend(strokes: Strokes, exercise: Exercise) -> Measure:
    """Return how the level of the unaccented notes grows, dB a minute."""
    rows = np.sort(np.concatenate([tap_rows(strokes, exercise, "R"), tap_rows(strokes, exercise, "L")]))
    unit = "dB/min"
    if rows.size < FEWEST_HITS:
        return _too_few(rows.size, unit)
    group = _notes_or_hands(strokes, rows)
    return _slope(strokes.time_s[rows] / SECONDS_A_MINUTE, strokes.level_db[rows], group, unit)


def _too_few(n: int, unit: str) -> Measure:
    """Return a trend that cannot be told yet."""
    return Measure(None, n, unit, None, FEWEST_HITS)


def _notes_or_hands(strokes: Strokes, rows: Ints) -> Ints:
    """Group by written note where most were played twice or more, else by hand and accent."""
    position = strokes.position[rows]
    if 2 * int(np.count_nonzero(np.bincount(position))) <= rows.size:
        return position
    return np.asarray(strokes.right[rows] + 2 * strokes.accent[rows], dtype=np.int64)


def _slope(minutes: Floats, values: Floats, group: Ints, unit: str) -> Measure:
    """Return the slope common to all groups; doubt allows for scatter that changes on the way."""
    at = minutes - group_means(minutes, group)[group]
    about = values - group_means(values, group)[group]
    size = float(at @ at)
    n, dof = at.size, at.size - int(np.count_nonzero(np.bincount(group))) - 1
    if size <= 0 or dof < 1:
        return _too_few(n, unit)
    slope = float(at @ about) / size
    rest = about - slope * at
    error = math.sqrt(float((at**2) @ rest**2) * n / dof) / size
    return around(slope, error, dof, n, unit)
