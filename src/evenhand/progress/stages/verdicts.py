"""Verdicts on a stage's conditions, and what is proposed.

Conventions: which side of a condition's bound the whole 95 % range of a figure lies on decides, and where it
straddles nothing is decided; a figure that may stray to either side of zero is met inside the bound on both.
Of two hands the one that is worse decides, and a hand that was not heard leaves it open.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from evenhand.measuring.values import Measure
from evenhand.music.exercise import HANDS, Hand
from evenhand.progress.stages.path import Condition
from evenhand.take import Remark

Verdict = Literal["met", "not met", "can't tell", "not seen"]
Proposal = Literal["go on", "stay", "go back", "can't tell"]


@dataclass(frozen=True, slots=True)
class Judged:
    """One condition and what the history says of it: the figure, its interval, its count.

    ``n`` counts takes, or repetitions for a ceiling, or drops. Where each hand is judged,
    ``hands`` holds both and the figure is that of ``hand``, the one that decides.
    ``at_least`` and ``at_most`` are what is known of a ceiling that is not bounded on both
    sides. ``needs`` is how many takes more would likely tell; ``remark`` says what is lacking.
    """

    condition: Condition
    verdict: Verdict
    value: float | None
    ci95: tuple[float, float] | None
    n: int
    bound: float | None  # as used
    hand: Hand | None = None
    hands: Mapping[Hand, Measure] = field(default_factory=dict)
    at_least: float | None = None
    at_most: float | None = None
    needs: int | None = None
    remark: Remark | None = None

    @property
    def counts(self) -> bool:
        """Tell whether the proposal rests on it: not a wish, nor what no video shows and none has to."""
        seen = self.verdict != "not seen"
        return {"always": True, "when seen": seen, "never": False}[self.condition.holds]


@dataclass(frozen=True, slots=True)
class Advice:
    """What is proposed; the teacher decides. ``to`` is the stage it leads to.

    ``slipped`` are conditions of the stage before that are now clearly not met.
    """

    stage: str
    proposal: Proposal
    to: str
    judged: tuple[Judged, ...]
    weeks_in_stage: float | None = None
    slipped: tuple[Judged, ...] = ()
    takes: int = 0
    days: int = 0
    notes: tuple[Remark, ...] = ()


MOST_NEEDED = 40  # takes more than that are not worth naming
_RANK: Mapping[Verdict, int] = {"met": 0, "not seen": 1, "can't tell": 1, "not met": 2}


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


def judged_hands(
    condition: Condition,
    hands: Mapping[Hand, Measure],
    bounds: Mapping[Hand, float],
    *,
    two_sided: bool = False,
) -> Judged:
    """Judge each hand; the worse one decides, and a hand that was not heard leaves it open."""
    verdicts = {
        hand: side_of(measure, condition, bounds[hand], two_sided=two_sided)
        for hand, measure in hands.items()
    }
    sign = 1.0 if condition.relation == "at most" else -1.0

    def badness(hand: Hand) -> tuple[int, float]:
        value = hands[hand].value
        value = abs(value) if value is not None and two_sided else value
        return _RANK[verdicts[hand]], -math.inf if value is None else sign * (value - bounds[hand])

    worse = max(hands, key=badness)
    one = judged_one(condition, hands[worse], bounds[worse], two_sided=two_sided)
    one = replace(one, hand=worse, hands=dict(hands))
    lacking = hand_not_heard(hands)
    if lacking is None or one.verdict == "not met":
        return one
    return replace(one, verdict="can't tell", remark=lacking)


def hand_not_heard(hands: Mapping[Hand, Measure]) -> Remark | None:
    """Return which hand nothing was heard of, if one is lacking."""
    lacking = [hand for hand in HANDS if hand not in hands]
    return Remark("hand not heard", {"hand": lacking[0]}) if lacking else None


def not_shown(condition: Condition, remark: Remark, n: int = 0) -> Judged:
    """Say that nothing shows it yet."""
    return Judged(condition, "can't tell", None, None, n, condition.bound, remark=remark)


def _needed(measure: Measure, value: float | None, bound: float) -> int | None:
    """Say how many takes more would likely tell, if the figure stays as it is."""
    if value is None or measure.ci95 is None or value == bound:
        return None
    half = (measure.ci95[1] - measure.ci95[0]) / 2
    more = math.ceil(measure.n * ((half / (value - bound)) ** 2 - 1))
    return max(more, 1) if more <= MOST_NEEDED else None
