"""How the folded picture is drawn to scale: one magnification in time, one range of levels.

Conventions: ms, negative = early; dB; px of the drawing's own units. "Factor" is how
many times wider time is drawn in a column than the music above draws it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from evenhand.domain.audible import audible_ms
from evenhand.domain.engraved import EngravedExercise
from evenhand.domain.exercise import Exercise
from evenhand.domain.heard import Heard
from evenhand.domain.heard_take import HeardTake
from evenhand.pages.rows import Row

FACTORS = (0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)
WIDEST_HALF_PX = 34.0
LEAST_HALF_PX = 5.0
NO_LEVEL_DB = -25.0  # of a take without hits: a scale must stand somewhere
KEPT_INSIDE = 0.97  # share of the hits that the magnification must leave inside their columns
BAND_SHARE = 0.36  # the audible band is at most this share of its column
LEAST_RANGE_DB = 10.0  # an even take's sticks shall not look uneven
EDGE_PX = 4.0  # kept free at a column's edge: the tick of a stick that was drawn nearer than it came


@dataclass(frozen=True, slots=True)
class Columns:
    """The room that one engraving leaves: half a column, and how far the music goes in a ms."""

    half_px: float
    music_px_per_ms: float


@dataclass(frozen=True, slots=True)
class Scale:
    """What a place and a length mean. ``centre_ms`` is drawn in the middle of each column."""

    factor: float
    centre_ms: float
    audible_ms: float
    quietest_db: float
    loudest_db: float
    middle_db: float

    def strength(self, level_db: float) -> float:
        """Return a level as 0 (quietest drawn) to 1 (loudest drawn)."""
        share = (level_db - self.quietest_db) / (self.loudest_db - self.quietest_db)
        return min(1.0, max(0.0, share))


def interval_of(take: HeardTake) -> float:
    """Return the typical time between neighbouring notes, ms: as measured, else as written."""
    if take.measures is not None and take.measures.interval_ms:
        return take.measures.interval_ms
    if take.exercise is None or take.tempo is None:
        return 200.0
    return float(_typical_value(take.exercise)) * take.tempo.whole_note_s * 1000


def columns_of(engraved: EngravedExercise, exercise: Exercise, interval_ms: float) -> Columns:
    """Measure the columns that an engraving's struck notes leave."""
    struck = set(exercise.struck)
    steps = [
        b.x - a.x
        for line in engraved.lines
        for a, b in pairwise(note for note in line.notes if note.position in struck)
    ]
    steps = [step for step in steps if step > 0] or [2 * WIDEST_HALF_PX]
    half = max(LEAST_HALF_PX, min(min(steps) / 2, WIDEST_HALF_PX))
    return Columns(half, median(steps) / interval_ms)


def scale_of(rows: Sequence[Row], rooms: Iterable[tuple[Columns, float]], interval_ms: float) -> Scale:
    """Choose the largest round magnification that keeps the hits inside their columns.

    ``rooms`` are the columns of each engraving with half the width of its widest stick, px:
    one factor serves all of them.
    """
    marks = [mark for row in rows for mark in row.marks]
    lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
    audible = audible_ms(interval_ms)
    centre = _centre(lates, audible)
    far = quantile([abs(late - centre) for late in lates], KEPT_INSIDE)
    factor = min(_factor(columns, far, audible, lean_px) for columns, lean_px in rooms)
    low, high, middle = _levels([mark.level_db for mark in marks])
    return Scale(factor, centre, audible, low, high, middle)


def middle_level_db(heard: Heard) -> float:
    """Return the take's middle: the level that half of its notes' hits lie above, dB.

    Every level that is shown as a difference, in the terminal as on the page, is told against it.
    """
    levels = [hit.level_db for hit in heard.hits if not hit.grace]
    return median(levels) if levels else NO_LEVEL_DB


def quantile(values: Sequence[float], share: float) -> float:
    """Return the value that this share of them lies at or below; 0 of nothing."""
    if not values:
        return 0.0
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, math.ceil(share * len(ranked)) - 1 if share > 0 else 0)]


def _centre(lates: Sequence[float], audible: float) -> float:
    """Return 0, or the take's middle where the whole take lies off the clock."""
    middle = median(lates) if lates else 0.0
    return float(round(middle)) if abs(middle) > 1.5 * audible else 0.0


def _factor(columns: Columns, far_ms: float, audible: float, lean_px: float) -> float:
    room = max(1.0, columns.half_px - min(lean_px, columns.half_px / 2) - EDGE_PX)
    most = min(room / max(far_ms, 1e-6), BAND_SHARE * columns.half_px / audible)
    fitting = [factor for factor in FACTORS if factor * columns.music_px_per_ms <= most]
    return fitting[-1] if fitting else FACTORS[0]


def _levels(levels: Sequence[float]) -> tuple[float, float, float]:
    if not levels:
        return NO_LEVEL_DB - 5.0, NO_LEVEL_DB + 5.0, NO_LEVEL_DB
    low, high = quantile(levels, 0.03), quantile(levels, 0.97)
    spare = max(0.0, LEAST_RANGE_DB - (high - low)) / 2
    return low - spare, high + spare, median(levels)


def _typical_value(exercise: Exercise) -> float:
    starts = [float(exercise.starts[i]) for i in exercise.struck]
    steps = [b - a for a, b in pairwise([*starts, float(exercise.length) + (starts[0] if starts else 0.0)])]
    return median(steps) if steps else 0.25
