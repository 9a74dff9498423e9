"""What is said of a stroke, and what is not."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.music.strokes.heights import COMMON_HEIGHTS
from evenhand.watching.impacts import HitBy
from evenhand.watching.peaks import Peak, SeenWay
from evenhand.watching.strokes import Judging, class_limits, class_of, strokes_of
from evenhand.watching.values import SeenStroke

G = 980.665
HITS = (1.0, 1.6, 2.2)


def bouncing(fps: float = 60.0) -> SeenWay:
    """Give a stick that bounces freely from hit to hit, 600 ms apart, from the height that this takes."""
    times = np.arange(0.6, 2.6, 1 / fps)
    after = (times - 1.0) % 0.6
    return SeenWay(times, np.sqrt(2 * G * 44.1) * after - G * after**2 / 2, np.full(times.size, 30.0))


def seen(
    *, ups: frozenset[int] = frozenset(), fps: float = 60.0, hand: bool = True
) -> tuple[SeenStroke, ...]:
    struck = [HitBy("R", 0.99, t) if hand else HitBy(None, None, t) for t in HITS]
    ways = {"R": bouncing(fps)} if hand else {}
    return strokes_of(HITS, struck, ways, ups, COMMON_HEIGHTS, Judging(0.02, fps))  # type: ignore[arg-type]


def test_a_stroke_has_its_height_its_class_its_angle_and_its_rise() -> None:
    second = seen()[1]
    assert second.preparation_cm == pytest.approx(44.1, abs=0.3)
    assert (second.stroke, second.class_probability) == ("full", 1.0)
    assert second.angle_deg == 30.0
    assert second.rise == "free"
    assert second.lift_index is not None
    assert second.lift_index < 0.2


def test_an_up_stroke_that_was_asked_for_is_not_judged_as_lifted() -> None:
    strokes = seen(ups=frozenset({1}))
    assert [stroke.rise is None for stroke in strokes] == [False, True, False]
    assert strokes[1].rebound_cm is not None


def test_too_few_frames_a_second_judge_no_rise() -> None:
    assert all(stroke.rise is None for stroke in seen(fps=15.0))
    assert all(stroke.preparation_cm is not None for stroke in seen(fps=15.0))


def test_a_hit_without_a_hand_has_nothing_but_its_time() -> None:
    assert seen(hand=False) == tuple(SeenStroke(t) for t in HITS)


def test_classes_reach_half_way_to_the_next() -> None:
    low, high = class_limits(COMMON_HEIGHTS)
    assert low == pytest.approx(5.5 * 2.54)
    assert high == pytest.approx(9.5 * 2.54)
    assert class_of(low - 2, 0.5, COMMON_HEIGHTS)[0] == "tap"
    stroke, probability = class_of(low + 0.01, 0.5, COMMON_HEIGHTS)
    assert stroke == "half"
    assert probability == pytest.approx(0.5, abs=0.01)


def test_a_class_is_as_likely_as_the_normal_distribution_says() -> None:
    """One standard deviation over a limit: 84.1 % (common tables of the normal distribution)."""
    _, high = class_limits(COMMON_HEIGHTS)
    assert class_of(high + 0.6, 0.6, COMMON_HEIGHTS)[1] == pytest.approx(0.8413, abs=1e-4)


def test_a_height_is_less_sure_with_fewer_frames_and_a_doubtful_scale() -> None:
    top = Peak(1.0, 25.0, 0.2)
    sure, few, scaled = (Judging(*each).sd_cm(top) for each in ((0.01, 120.0), (0.01, 15.0), (0.05, 120.0)))
    assert sure < 0.5 < few
    assert scaled > 1.25
