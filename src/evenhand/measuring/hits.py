"""The hits of a take as arrays, and which of them are to be believed.

Conventions: one row a hit, in order of time; graces and hits without a hand stay out (they have arrays of
their own where they are measured). ``timing_ms`` is asynchrony where a click sounds through the playing,
else deviation from the smooth tempo; negative = early. Shape (n_hits,) throughout.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import MAD_TO_SD, Bools, Floats, Ints
from evenhand.music.exercise import Exercise, Hand
from evenhand.music.loudness import plain_positions
from evenhand.take import Heard, Hit

# A hit that is far off is left out the sooner, the less sure the hearing was of it: beyond so many robust
# standard deviations at confidence 0, and so many more at confidence 1. Sure hits are practically never left
# out, so that the plain n-1 spread stays plain.
LIMIT_UNSURE, LIMIT_SURE_MORE = 3.0, 9.0
TIMING_FLOOR_MS, LEVEL_FLOOR_DB = 1.0, 0.7  # robust spreads below these would leave out honest hits
REPETITIONS_FOR_POSITIONS = 4  # from here on a hit is judged against its own note's median
SAME_WRITTEN = 1e-6  # whole notes: written times nearer than this are the same


@dataclass(frozen=True)
class MainHits:
    """The main hits of a take. ``sure_timing`` and ``sure_level`` say which figures to believe.

    ``alone`` are not of both hands at once, nor of a foot: those count for the whole and for no hand.
    ``plain`` are meant equally loud: no accents, no ghosts, one dynamic.

    ``time_se_ms`` is the standard error of each time; 0 where times were given.
    """

    time_s: Floats
    level_db: Floats
    timing_ms: Floats
    written: Floats
    repetition: Ints
    position: Ints
    stretch: Ints
    right: Bools
    alone: Bools
    accent: Bools
    plain: Bools
    sure_timing: Bools
    sure_level: Bools
    time_se_ms: Floats

    @property
    def n(self) -> int:
        """How many hits there are."""
        return int(self.time_s.size)

    def by(self, hand: Hand) -> Bools:
        """Return which hits are this hand's alone, shape (n_hits,)."""
        return self.alone & (self.right if hand == "R" else ~self.right)


def main_hits(heard: Heard, exercise: Exercise) -> MainHits:
    """Lay out a take's main hits as arrays, in order of time."""
    hits = [h for h in heard.hits if h.hand is not None and h.position is not None and not h.grace]
    hits.sort(key=lambda h: h.time_s)
    timing = _column(hits, "asynchrony_ms" if heard.clock == "click" else "deviation_ms")
    level = _column(hits, "level_db")
    position = np.array([h.position for h in hits], dtype=np.int64)
    right = np.array([h.hand == "R" for h in hits], dtype=np.bool_)
    accent = _of_notes(position, [note.accent for note in exercise.notes])
    plain = plain_positions(exercise)
    confidence = _column(hits, "confidence")
    loud_hand = right + 2 * accent
    return MainHits(
        time_s=_column(hits, "time_s"),
        level_db=level,
        timing_ms=timing,
        written=_column(hits, "written"),
        repetition=np.array([h.repetition or 1 for h in hits], dtype=np.int64),
        position=position,
        stretch=np.array([h.stretch for h in hits], dtype=np.int64),
        right=right,
        alone=_of_notes(position, [note.one_hand is not None for note in exercise.notes]),
        accent=accent,
        plain=_of_notes(position, [at in plain for at in range(len(exercise.notes))]),
        sure_timing=sure(timing, (position, right), confidence, TIMING_FLOOR_MS),
        sure_level=sure(level, (position, loud_hand), confidence, LEVEL_FLOOR_DB),
        time_se_ms=np.nan_to_num(_column(hits, "time_se_ms")),
    )


def _of_notes(position: Ints, marked: list[bool]) -> Bools:
    """Return which hits are of marked notes, shape (n_hits,)."""
    return np.array(marked, dtype=np.bool_)[position]


def _column(hits: Sequence[Hit], name: str) -> Floats:
    """Return one field of every hit; NaN where it is unknown."""
    values: list[Any] = [getattr(hit, name) for hit in hits]
    return np.array([np.nan if v is None else v for v in values], dtype=np.float64)


def sure(
    values: Floats, groups: tuple[NDArray[Any], NDArray[Any]], confidence: Floats, floor: float
) -> Bools:
    """Tell which values are to be believed, by distance from their like and by confidence.

    Parameters
    ----------
    values
        Shape (n,), any unit; NaN is never believed.
    groups
        A fine and a coarse grouping (note; hand), shape (n,) each. The fine one serves where the note was
        played often enough, so that a note that is always late is not taken for wrong.
    confidence
        Shape (n,), 0..1.
    floor
        Smallest robust spread, in the values' unit.

    Returns
    -------
    Shape (n,).
    """
    known = np.isfinite(values)
    n = int(known.sum())
    if n < 3:
        return known
    believed = known.copy()
    fine, coarse = labels(groups[0][known]), labels(groups[1][known])
    grouping = fine if n >= REPETITIONS_FOR_POSITIONS * (fine.max() + 1) else coarse
    away = np.abs(values[known] - _group_medians(values[known], grouping)[grouping])
    spread = MAD_TO_SD * _group_medians(away, coarse)[coarse]
    limit = LIMIT_UNSURE + LIMIT_SURE_MORE * confidence[known]
    believed[known] = away <= limit * np.maximum(spread, floor)
    return believed


def labels(groups: NDArray[Any]) -> Ints:
    """Return each value's group.

    Parameters
    ----------
    groups : shape (n,)

    Returns
    -------
    shape (n,), the distinct ones numbered from 0
    """
    return np.unique(groups, return_inverse=True)[1].astype(np.int64)


def _group_medians(values: Floats, group: Ints) -> Floats:
    """Return each group's median; groups are numbered from 0 without gaps."""
    order = np.lexsort((values, group))
    counts = np.bincount(group)
    first = np.cumsum(counts) - counts
    ordered = values[order]
    low, high = ordered[first + (counts - 1) // 2], ordered[first + counts // 2]
    return np.asarray((low + high) / 2)


def group_means(values: Floats, group: Ints) -> Floats:
    """Return each group's mean.

    Parameters
    ----------
    values : shape (n,), any unit
    group : shape (n,), numbered from 0

    Returns
    -------
    shape (largest group + 1,); 0 for groups without values
    """
    return np.asarray(np.bincount(group, weights=values) / np.maximum(np.bincount(group), 1))
