"""Judge what a stage asks of drops: how many were left free, and how often the stick bounced by itself.

Conventions: a drop's bounces are its blows, the landing too. Hands are told apart where the drops are
labelled with them; else all drops count together.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from evenhand.domain.bounce import HeardDrop
from evenhand.domain.exercise import Hand
from evenhand.domain.history import PastBounce
from evenhand.domain.measures import Measure
from evenhand.domain.path import Condition, Judged, Verdict
from evenhand.practising.mixtures import t_975
from evenhand.practising.past_figures import HANDS
from evenhand.practising.verdicts import HAND_NAMES, judged_hands, judged_one, not_shown

FEWEST_DROPS = 3
COUNTED_SD = 0.29  # a whole number stands for anything within half of it: 1 / sqrt(12)
NO_DROPS = "no drops were heard"
NO_HANDS = "which hand is not known: all drops count together"


def judge_free_drops(condition: Condition, bounces: Sequence[PastBounce]) -> Judged:
    """Count the drops left free; a count has no interval, but what is unsure leaves it open."""
    drops = _drops(bounces)
    if not drops or condition.bound is None:
        return not_shown(condition, NO_DROPS)
    hands = _by_hand(drops)
    if not hands:
        verdict, why = _counted(drops, condition.bound, "")
        free = _free(drops)
        return Judged(condition, verdict, float(free), None, len(drops), condition.bound, why=why or NO_HANDS)
    sides = {hand: _counted(of_it, condition.bound, HAND_NAMES[hand]) for hand, of_it in hands.items()}
    order = ("not met", "can't tell", "met")
    worse = min(hands, key=lambda hand: (order.index(sides[hand][0]), _free(hands[hand])))
    counts = {hand: Measure(float(_free(of_it)), len(of_it), "drops") for hand, of_it in hands.items()}
    verdict, why = sides[worse]
    lacking = [HAND_NAMES[hand] for hand in HANDS if hand not in hands]
    if lacking and verdict == "met":
        verdict, why = "can't tell", f"nothing was heard of the {lacking[0]} hand"
    value, n = counts[worse].value, counts[worse].n
    return Judged(condition, verdict, value, None, n, condition.bound, worse, counts, why=why)


def judge_bounces(condition: Condition, bounces: Sequence[PastBounce]) -> Judged:
    """Judge the mean number of bounces of the drops left free."""
    drops = [drop for drop in _drops(bounces) if drop.kind == "free"]
    if not drops or condition.bound is None:
        return not_shown(condition, "no drop was left free" if _drops(bounces) else NO_DROPS)
    hands = _by_hand(drops)
    if not hands:
        return judged_one(condition, _mean(drops), condition.bound)
    bounds = dict.fromkeys(hands, condition.bound)
    return judged_hands(condition, {hand: _mean(of_it) for hand, of_it in hands.items()}, bounds)


def _drops(bounces: Sequence[PastBounce]) -> list[HeardDrop]:
    return [drop for each in bounces for drop in each.drops]


def _free(drops: Sequence[HeardDrop]) -> int:
    return sum(drop.kind == "free" for drop in drops)


def _by_hand(drops: Sequence[HeardDrop]) -> Mapping[Hand, list[HeardDrop]]:
    """Tell the hands apart by the drops' labels, such as ``R`` or ``fingertips, R``."""
    out: dict[Hand, list[HeardDrop]] = {}
    for drop in drops:
        parts = [part.strip() for part in (drop.label or "").split(",")]
        for hand in HANDS:
            if hand in parts:
                out.setdefault(hand, []).append(drop)
    return out


def _counted(drops: Sequence[HeardDrop], bound: float, whose: str) -> tuple[Verdict, str]:
    """Say whether enough were left free; too few heard, or unsure ones, leave it open."""
    free = _free(drops)
    if free >= bound:
        return "met", ""
    unsure = sum(drop.kind == "unsure" for drop in drops)
    of_hand = f" of the {whose} hand" if whose else ""
    if len(drops) < bound:
        return "can't tell", f"only {len(drops)} drops{of_hand} were heard"
    if free + unsure >= bound:
        return "can't tell", f"of {unsure} drops{of_hand} it is unsure whether they were left free"
    return "not met", f"{len(drops) - free - unsure} drops{of_hand} were damped"


def _mean(drops: Sequence[HeardDrop]) -> Measure:
    """Return the mean number of bounces with its interval."""
    counts = np.array([drop.bounces for drop in drops], dtype=np.float64)
    n = len(counts)
    if n < FEWEST_DROPS:
        return Measure(None, n, "bounces", needs=FEWEST_DROPS)
    mean, spread = float(counts.mean()), max(float(counts.std(ddof=1)), COUNTED_SD)
    reach = t_975(n - 1) * spread / math.sqrt(n)
    return Measure(mean, n, "bounces", (max(mean - reach, 0.0), mean + reach))
