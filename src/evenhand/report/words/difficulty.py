"""Why one exercise is harder than another, in words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from evenhand.music.exercise import HAND_NAMES
from evenhand.music.writing.difficulty import COMPONENTS, LONGEST_RUN, SAME_LOAD, Difficulty


def explain(ordered: Sequence[Difficulty]) -> list[str]:
    """Say of each exercise, ordered easy to hard, why it comes after the one before."""
    if not ordered:
        return []
    first = f"the easiest of these: {_easiest(ordered[0])}" if len(ordered) > 1 else _easiest(ordered[0])
    return [first, *(_harder(now, before) for before, now in pairwise(ordered))]


def _easiest(first: Difficulty) -> str:
    if first.run_notes == 1:
        return f"no hand plays two in a row, and {_busy(first)}"
    return _run(first)


def _harder(now: Difficulty, before: Difficulty) -> str:
    """Name what weighs most in the step from one exercise to the next."""
    if now.load - before.load < SAME_LOAD:
        return "as hard as the one before"
    steps = [mine - theirs for mine, theirs in zip(now.weighed, before.weighed, strict=True)]
    most = COMPONENTS[steps.index(max(steps))]
    return f"harder than the one before because {_said(now, most)}"


def _said(now: Difficulty, component: str) -> str:
    """Say one component of an exercise."""
    return {
        "hand": _busy(now),
        "run": _run(now),
        "heights": f"a hand changes its height {_times(now.height_changes)}",
        "ornaments": f"it has {_rate(now.ornaments)} graces or buzzes a second",
        "mixed": f"its runs change their length more often, {_times(now.run_changes)}",
        "unfamiliar": "more of its hand changes are in no single, double or paradiddle",
    }[component]


def _busy(now: Difficulty) -> str:
    return f"the {HAND_NAMES[now.hand]} hand plays {_rate(now.hand_rate)} strokes a second"


def _run(now: Difficulty) -> str:
    """Say the run that asks for most."""
    hand, rate = HAND_NAMES[now.run_hand], _rate(now.run_rate)
    if now.run_notes > LONGEST_RUN:
        return f"the {hand} hand plays without a break at {rate} strokes a second"
    return f"the {hand} hand plays {now.run_notes} in a row at {rate} strokes a second"


def _times(rate: float) -> str:
    return f"{_rate(rate)} times a second"


def _rate(rate: float) -> str:
    """Say how often a second.

    >>> _rate(7.0), _rate(4.6667), _rate(0.04)
    ('7', '4.7', '0.04')
    """
    return f"{rate:.1f}".removesuffix(".0") if rate >= 0.1 else f"{rate:.2g}"
