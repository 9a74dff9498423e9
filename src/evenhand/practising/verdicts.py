"""On which side of a condition's bound a figure lies, and how much more would tell.

Conventions: only the whole 95 % range decides. Where a figure may stray to either side of nought, it is
met inside the bound on both sides. Of two hands the one that is worse decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure
from evenhand.domain.path import Condition, Judged, Verdict

MOST_NEEDED = 40  # takes more than that are not worth naming
HAND_NAMES: Mapping[Hand, str] = {"R": "right", "L": "left"}
_RANK: Mapping[Verdict, int] = {"met": 0, "can't tell": 1, "not met": 2}


def side_of(measure: Measure, condition: Condition, bound: float, *, two_sided: bool = False) -> Verdict:
    """Say on which side of the bound the whole interval lies."""
    if measure.value is None or measure.ci95 is None:
        return "can't tell"
    low, high = measure.ci95
    if condition.relation == "at least":
        met, not_met = low >= bound, high < bound
    elif two_sided:
        met, not_met = -bound <= low and high <= bound, low > bound or high < -bound
    else:
        met, not_met = high <= bound, low > bound
    return "met" if met else "not met" if not_met else "can't tell"


def judged_one(condition: Condition, measure: Measure, bound: float, *, two_sided: bool = False) -> Judged:
    """Judge a figure of both hands together."""
    verdict = side_of(measure, condition, bound, two_sided=two_sided)
    value = None if measure.value is None else abs(measure.value) if two_sided else measure.value
    return Judged(
        condition,
        verdict,
        measure.value,
        measure.ci95,
        measure.n,
        bound,
        needs=_needed(measure, value, bound) if verdict == "can't tell" else None,
    )


def judged_hands(condition: Condition, hands: Mapping[Hand, Measure], bounds: Mapping[Hand, float]) -> Judged:
    """Judge each hand; the worse one decides, and a hand that was not heard leaves it open."""
    verdicts = {hand: side_of(measure, condition, bounds[hand]) for hand, measure in hands.items()}
    sign = 1.0 if condition.relation == "at most" else -1.0

    def badness(hand: Hand) -> tuple[int, float]:
        value = hands[hand].value
        return _RANK[verdicts[hand]], -math.inf if value is None else sign * (value - bounds[hand])

    worse = max(hands, key=badness)
    one = judged_one(condition, hands[worse], bounds[worse])
    lacking = [HAND_NAMES[hand] for hand in HAND_NAMES if hand not in hands]
    verdict, why = one.verdict, ""
    if lacking and verdict != "not met":
        verdict, why = "can't tell", f"nothing was heard of the {lacking[0]} hand"
    return Judged(
        condition,
        verdict,
        one.value,
        one.ci95,
        one.n,
        one.bound,
        hand=worse,
        hands=dict(hands),
        needs=one.needs,
        why=why,
    )


def not_shown(condition: Condition, why: str, n: int = 0) -> Judged:
    """Say that nothing shows it yet."""
    return Judged(condition, "can't tell", None, None, n, condition.bound, why=why)


def _needed(measure: Measure, value: float | None, bound: float) -> int | None:
    """Say how many takes more would likely tell, if the figure stays as it is."""
    if value is None or measure.ci95 is None or value == bound:
        return None
    half = (measure.ci95[1] - measure.ci95[0]) / 2
    more = math.ceil(measure.n * ((half / (value - bound)) ** 2 - 1))
    return max(more, 1) if more <= MOST_NEEDED else None
