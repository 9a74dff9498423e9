"""Judge a stage's conditions that must be seen: of the newest takes that came with a video.

Conventions: what was seen of a take stands among its measures under ``seen.``: shares of each hand's strokes
in %, and how much higher the right hand plays, in % of both hands' mean height. Without a video a condition
is not seen, and never not met. A hand's strokes in one take are more alike than strokes of different takes:
a share rests on fewer than there are, by the design effect 1 + (m - 1) ``ALIKE`` of m strokes a
take (Kish 1965, Survey Sampling).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from evenhand.measuring.estimates import wilson
from evenhand.measuring.values import Measure
from evenhand.music.exercise import HANDS, Hand
from evenhand.progress.history import PastTake
from evenhand.progress.stages.path import Condition
from evenhand.progress.stages.verdicts import Judged, judged_hands, judged_one
from evenhand.progress.statistics import error_of, pooled
from evenhand.take import Remark

SEEN = "seen."
NEWEST = 8  # takes with a video that are judged together, as of those that are heard (a convention)
ALIKE = 0.05  # correlation of strokes within a take (a convention)
FEWEST_STROKES = 5
USUAL_BETWEEN_PERCENT = 3.0  # how much takes of one student usually differ (a convention)
NOT_SEEN = Remark("no video shows this")
BETWEEN_HANDS: Mapping[str, str] = {"heights_apart_percent": "height_percent"}


def judge_seen(condition: Condition, takes: Sequence[PastTake]) -> Judged:
    """Judge a condition by what was seen in the newest of some takes, in order of their day."""
    seen = [take for take in takes if any(place.startswith(SEEN) for place in take.measures)][-NEWEST:]
    bound = condition.bound or 0.0
    if condition.measure in BETWEEN_HANDS:
        apart = _pooled(seen, f"{SEEN}{BETWEEN_HANDS[condition.measure]}")
        return _not_seen(condition) if apart is None else judged_one(condition, apart, bound, two_sided=True)
    hands: dict[Hand, Measure] = {}
    for hand in HANDS:
        share = _share(seen, f"{SEEN}{hand}.{condition.measure}")
        if share is not None:
            hands[hand] = share
    return judged_hands(condition, hands, dict.fromkeys(hands, bound)) if hands else _not_seen(condition)


def _not_seen(condition: Condition) -> Judged:
    return Judged(condition, "not seen", None, None, 0, condition.bound, remark=NOT_SEEN)


def _found(takes: Sequence[PastTake], place: str) -> list[Measure]:
    found = [take.measures.get(place) for take in takes]
    return [measure for measure in found if measure is not None and measure.value is not None]


def _share(takes: Sequence[PastTake], place: str) -> Measure | None:
    """Return the share over all takes, %, from how many takes; None where none shows it."""
    found = _found(takes, place)
    if not found:
        return None
    counts = np.array([measure.n for measure in found], dtype=np.float64)
    n = float(counts.sum())
    if n < FEWEST_STROKES:
        return Measure(None, len(found), "%")
    share = float(sum(measure.n * (measure.value or 0.0) for measure in found)) / (100 * n)
    alone = n / (1 + (float((counts**2).sum()) / n - 1) * ALIKE)
    low, high = wilson(share * alone, alone)
    return Measure(100 * share, len(found), "%", (100 * low, 100 * high))


def _pooled(takes: Sequence[PastTake], place: str) -> Measure | None:
    """Put a difference of several takes together, as those that are heard."""
    found = [measure for measure in _found(takes, place) if error_of(measure) is not None]
    if not found:
        return None
    values = np.array([measure.value for measure in found], dtype=np.float64)
    errors = np.array([error_of(measure) for measure in found], dtype=np.float64)
    mean = pooled(values, errors, USUAL_BETWEEN_PERCENT)
    return Measure(mean.value, len(found), found[0].unit, mean.ci95)
