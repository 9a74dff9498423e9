"""Every written note over all its repetitions.

Conventions: ms (asynchrony or deviation) and dB; one row a struck note, in written order.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from evenhand.domain.exercise import Exercise
from evenhand.domain.heard import Heard
from evenhand.domain.measures import Measure, PositionMeasures
from evenhand.measuring.estimates import FEWEST, around, too_few
from evenhand.measuring.strokes import Bools, Floats, Strokes


def positions(heard: Heard, strokes: Strokes, exercise: Exercise) -> tuple[PositionMeasures, ...]:
    """Measure each struck note: timing, level, and how often it was missed."""
    missed = Counter(miss.position for miss in heard.missed if not miss.grace)
    timing = _by_position(strokes.timing_ms, strokes.sure_timing, strokes, exercise, "ms")
    level = _by_position(strokes.level_db, strokes.sure_level, strokes, exercise, "dB")
    rows = []
    for p in exercise.struck:
        hand = exercise.notes[p].hand
        if hand is not None:
            rows.append(PositionMeasures(p, hand, timing[p], level[p], missed[p]))
    return tuple(rows)


def _by_position(
    values: Floats, believed: Bools, strokes: Strokes, exercise: Exercise, unit: str
) -> list[Measure]:
    """Return the mean of the believed values of every position, rests included."""
    at, kept = strokes.position[believed], values[believed]
    size = len(exercise.notes)
    counts = np.bincount(at, minlength=size)
    means = np.bincount(at, weights=kept, minlength=size) / np.maximum(counts, 1)
    squares = np.bincount(at, weights=(kept - means[at]) ** 2, minlength=size)
    return [
        around(m, math.sqrt(s / (n - 1) / n), n - 1, n, unit) if n >= FEWEST else too_few(n, unit)
        for m, s, n in zip(means.tolist(), squares.tolist(), counts.tolist(), strict=True)
    ]
