"""Drops as a film shows them: heights by construction, an eye that is off, both ways of e compared."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.measuring.values import Measure
from evenhand.progress.bounce.judge import BlowsOfDrop, judge_drop
from evenhand.progress.bounce.restitution import G_CM_PER_S2, HeardDrop, SeenDrop
from evenhand.progress.bounce.seen import agreement, seen_drop
from tests.unit.progress.drops import falling

FPS = 60.0
Way = tuple[NDArray[np.float64], NDArray[np.float64]]


def heard(kept: float, cm: float = 20.0) -> HeardDrop:
    times = falling(cm, kept, 40, 1.0)
    times = times[: 1 + int((np.diff(times) > 0.03).sum())]
    return judge_drop(BlowsOfDrop(times, np.arange(len(times)), np.zeros(0)), None)


def way(drop: HeardDrop, kept: float, cm: float, noise_cm: float = 0.0) -> Way:
    """Film a stick that comes back to e^2k of its height, whatever its flights' times say."""
    times = np.arange(0.0, drop.hits_s[-1], 1 / FPS)
    heights = np.full_like(times, cm)
    falls_s = math.sqrt(2 * cm / G_CM_PER_S2)
    down = (times > drop.hits_s[0] - falls_s) & (times < drop.hits_s[0])
    heights[down] = cm * (1 - ((times[down] - drop.hits_s[0] + falls_s) / falls_s) ** 2)
    for k, (start, end) in enumerate(pairwise(drop.hits_s)):
        inside = (times >= start) & (times < end)
        share = (times[inside] - start) / (end - start)
        heights[inside] = cm * kept ** (2 * (k + 1)) * 4 * share * (1 - share)
    return times, heights + np.random.default_rng(3).normal(0.0, noise_cm, times.size)


def seen(drop: HeardDrop, kept: float, cm: float = 20.0, noise_cm: float = 0.0) -> SeenDrop:
    return seen_drop(drop, *way(drop, kept, cm, noise_cm), (cm, 0.4), 0.015)


@pytest.mark.parametrize("kept", [0.65, 0.8, 0.88])
def test_heights_give_the_share_of_speed_that_times_give(kept: float) -> None:
    drop = heard(kept)
    found = seen(drop, kept)
    assert found.restitution.value == pytest.approx(kept, abs=0.005)
    assert found.agrees == "agree"
    assert found.heights_cm[0] == pytest.approx(20 * kept**2, abs=0.15)
    assert found.drop_height_cm.value == 20.0
    assert found.drop_height_cm.ci95 == pytest.approx((20 - 1.96 * 0.5, 20 + 1.96 * 0.5))  # .4 and .3: .5


def test_with_an_eye_s_error_the_range_holds_the_truth() -> None:
    drop = heard(0.8)
    found = seen(drop, 0.8, noise_cm=0.4).restitution
    assert found.ci95 is not None
    assert found.ci95[0] <= 0.8 <= found.ci95[1]
    assert found.ci95[1] - found.ci95[0] < 0.1


def test_a_stick_that_is_seen_to_keep_less_than_it_is_heard_to_does_not_agree() -> None:
    assert seen(heard(0.85), 0.7).agrees == "differ"


def test_a_flight_behind_a_lost_hit_and_what_a_finger_damped_do_not_count() -> None:
    whole = heard(0.88)
    lost = replace(whole, hits_s=(*whole.hits_s[:2], *whole.hits_s[3:]))
    times, heights = way(whole, 0.88, 20.0)
    assert len(seen_drop(lost, times, heights, None, 0.0).heights_cm) == 1
    damped = replace(whole, damped_from_s=whole.hits_s[3])
    assert len(seen_drop(damped, times, heights, None, 0.0).heights_cm) == 3


def test_too_few_heights_are_said_to_be_too_few() -> None:
    drop = heard(0.4)
    times, heights = way(drop, 0.4, 20.0)
    found = seen_drop(drop, times, heights, None, 0.0)
    assert found.restitution == Measure(None, len(found.heights_cm), "share", needs=3)
    assert found.drop_height_cm.value is None
    assert found.agrees == "can't tell"


def test_ranges_that_meet_agree() -> None:
    """By hand: ln(.84/.80) = .0488; spreads ln(.82/.78)/2 = .025 and ln(.88/.80)/2 = .0477: .0538."""
    one, other = Measure(0.8, 5, "share", (0.78, 0.82)), Measure(0.84, 5, "share", (0.80, 0.88))
    assert agreement(one, other) == "agree"
    assert agreement(one, replace(other, value=0.85)) == "differ"
    assert agreement(one, Measure(None, 1, "share")) == "can't tell"
