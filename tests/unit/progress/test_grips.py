"""Grips are compared hand by hand, by their free drops, and only where there are enough of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from evenhand.progress.bounce.grips import WINDOW_DAYS, HandGrips, compare_grips
from evenhand.progress.bounce.judge import judge_drop
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.progress.history import PastBounce
from evenhand.report.words import tests as words
from tests.unit.progress.drops import blows_of, falling

DAY = date(2026, 3, 2)


def drop(label: str, kept: float) -> HeardDrop:
    return judge_drop(blows_of(falling(12, kept, 9)), None, label)


def held(label: str) -> HeardDrop:
    return replace(drop(label, 0.8), kind="damped")


def take(*drops: HeardDrop, ago: int = 0) -> PastBounce:
    return PastBounce(DAY - timedelta(days=ago), "drops", drops)


def kept_about(kept: float, n: int, spread: float = 0.002) -> list[float]:
    """Give shares of speed around one, as by a hand that is never the same twice."""
    return [kept + spread * float(off) for off in np.linspace(-1, 1, n)]


def lines_of(found: HandGrips) -> list[str]:
    said, lines = words.grip_lines(found)
    return [said, *lines]


def test_the_grip_whose_stick_keeps_more_bounces_longest() -> None:
    first = take(*(drop("fingertips, R", kept) for kept in kept_about(0.82, 4)), ago=3)
    second = take(*(drop("whole hand, R", kept) for kept in kept_about(0.70, 4)))
    (right,) = compare_grips([first, second])
    assert (right.hand, right.longest) == ("R", "fingertips")
    assert [(grip.label, grip.free) for grip in right.grips] == [("fingertips", 4), ("whole hand", 4)]
    (pair,) = right.comparisons
    assert pair.difference.ci95 is not None
    assert pair.difference.ci95[0] < 0.82 - 0.70 < pair.difference.ci95[1]
    said = lines_of(right)
    assert said[0] == "Right hand: it bounces longest with fingertips."
    assert "4 of 4 drops free" in said[1]
    assert said[3].startswith("It bounces longer with fingertips than with whole hand: by 0.1")


def test_where_the_difference_may_be_nothing_it_cannot_be_told() -> None:
    labelled = [("fingertips, L", 0.78), ("whole hand, L", 0.775)]
    drops = [drop(label, kept) for label, about in labelled for kept in kept_about(about, 3, 0.03)]
    (left,) = compare_grips([take(*drops)])
    assert left.longest is None
    said = lines_of(left)
    assert said[0] == "Left hand: can't tell yet which of fingertips and whole hand bounces longest."
    assert said[3].startswith("Between fingertips and whole hand: can't tell yet; the difference is")


def test_too_few_free_drops_are_not_compared() -> None:
    """Two free and two that were held are two."""
    many = [drop("fingertips, R", kept) for kept in kept_about(0.82, 4)]
    few = [
        drop("whole hand, R", 0.6),
        drop("whole hand, R", 0.61),
        held("whole hand, R"),
        held("whole hand, R"),
    ]
    (right,) = compare_grips([take(*many, *few)])
    assert (right.comparisons, right.longest) == ((), None)
    said = lines_of(right)
    assert said[0] == "Right hand: can't tell yet. Two grips need 3 free drops each."
    assert said[2].endswith("2 of 4 drops free. 1 free drop more, and it can be compared.")


def test_hands_are_not_held_against_each_other_and_old_drops_not_at_all() -> None:
    right = take(*(drop("fingertips, R", 0.82) for _ in range(3)))
    left = take(*(drop("whole hand, L", 0.6) for _ in range(3)))
    old = take(*(drop("old grip, R", 0.9) for _ in range(3)), ago=WINDOW_DAYS)
    nameless = take(drop("R", 0.9), drop("L", 0.9))
    found = compare_grips([right, left, old, nameless])
    assert [(each.hand, [grip.label for grip in each.grips]) for each in found] == [
        ("R", ["fingertips"]),
        ("L", ["whole hand"]),
    ]
    assert lines_of(found[0])[0] == (
        "Right hand: one grip so far. Try another: 3 free drops of each can be compared."
    )
    assert compare_grips([]) == ()
