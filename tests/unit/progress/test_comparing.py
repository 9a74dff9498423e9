"""Grips and hands are compared by their free drops, and only where it can be told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenhand.measuring.values import Measure
from evenhand.progress.bounce.judge import compare
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.take import Remark


def a_drop(label: str, kept: float, *, half: float = 0.01, blows: int = 12) -> HeardDrop:
    height = Measure(20.0, 11, "cm", (18.0, 22.0))
    share = Measure(kept, 11, "share", (kept - half, kept + half))
    return HeardDrop(
        1.0, (1.0, 1.3), blows, 1.4, share, height, height, "free", Remark("bounced on by itself"), label
    )


def test_a_clear_difference_is_told() -> None:
    drops = [a_drop("open", 0.82), a_drop("tight", 0.60), a_drop("open", 0.81), a_drop("tight", 0.62)]
    labels, pairs, longest = compare(drops)
    assert [label.label for label in labels] == ["open", "tight"]
    assert longest == "open"
    assert pairs[0].difference.value == pytest.approx(0.205, abs=0.01)


def test_overlapping_grips_cannot_be_told_apart() -> None:
    drops = [a_drop("open", 0.72), a_drop("tight", 0.70), a_drop("open", 0.68), a_drop("tight", 0.71)]
    _, pairs, longest = compare(drops)
    assert longest is None
    assert pairs[0].longer is None


def test_damped_drops_do_not_count() -> None:
    drops = [a_drop("open", 0.8), replace(a_drop("tight", 0.3), kind="damped")]
    labels, pairs, longest = compare(drops)
    assert (labels[1].drops, labels[1].free, labels[1].restitution.value) == (1, 0, None)
    assert (pairs[0].difference.value, longest) == (None, None)


def test_of_three_the_longest_must_beat_both() -> None:
    two = [a_drop("a", 0.85), a_drop("b", 0.84), a_drop("c", 0.5)]
    assert compare(two)[2] is None
    clear = [a_drop("a", 0.85), a_drop("b", 0.6), a_drop("c", 0.5)]
    assert compare(clear)[2] == "a"


def test_drops_that_differ_among_themselves_widen_the_doubt() -> None:
    steady = compare([a_drop("R", 0.80), a_drop("R", 0.80), a_drop("R", 0.80)])[0][0].restitution.ci95
    unsteady = compare([a_drop("R", 0.70), a_drop("R", 0.80), a_drop("R", 0.90)])[0][0].restitution.ci95
    assert steady is not None
    assert unsteady is not None
    assert unsteady[1] - unsteady[0] > 2 * (steady[1] - steady[0])


def test_without_labels_there_is_nothing_to_compare() -> None:
    assert compare([replace(a_drop("x", 0.8), label=None)]) == ((), (), None)
