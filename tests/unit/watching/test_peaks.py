"""Heights before and after a hit, and what raised the stick, on motions that are given by a formula."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.watching.peaks import Peak, SeenWay, lift_index, rise_kind
from evenhand.watching.values import LiftParts

G = 980.665
HIT = 1.003


def way(times_s: Floats, height_cm: Floats) -> SeenWay:
    return SeenWay(times_s, height_cm, np.full(times_s.size, np.nan))


def ballistic(after_s: Floats, top_cm: float) -> Floats:
    """Fly freely: v t - g t^2 / 2, up to the top, and resting there."""
    top_s = np.sqrt(2 * top_cm / G)
    t = np.clip(after_s, 0, top_s)
    return np.asarray(np.sqrt(2 * G * top_cm) * t - G * t * t / 2)


def lifted(after_s: Floats, top_cm: float, seconds: float = 0.3) -> Floats:
    """Go the smoothest way from rest to rest: least jerk (Flash & Hogan 1985, J Neurosci 5:1688-1703)."""
    s = np.clip(after_s / seconds, 0, 1)
    return np.asarray(top_cm * s**3 * (10 - 15 * s + 6 * s * s))


def parts_of(height_cm: Floats, times_s: Floats) -> LiftParts:
    seen = way(times_s, height_cm)
    top = seen.rebound(HIT, np.inf)
    assert top is not None
    return seen.parts(HIT, top)


@pytest.mark.parametrize("fps", [30.0, 60.0, 120.0])
@pytest.mark.parametrize("top_cm", [8.0, 15.0, 28.0])
def test_a_free_rise_has_the_figures_of_free_flight(fps: float, top_cm: float) -> None:
    """At x of its time it has 2x - x^2 of its height: .95 at .776, and .626 at half of that, .66 of .95."""
    times = np.arange(0.8, 1.8, 1 / fps)
    parts = parts_of(ballistic(times - HIT, top_cm), times)
    slack = 0.05 if fps < 60 else 0.02
    assert parts.half_rise == pytest.approx(0.6259 / 0.95, abs=slack)
    assert parts.energy_ratio == pytest.approx(1.0, abs=0.06)
    assert parts.at_30_ms == pytest.approx(1.0, abs=0.1)
    assert rise_kind(lift_index(parts)) == "free"


@pytest.mark.parametrize("top_cm", [8.0, 15.0, 28.0])
def test_a_lifted_rise_leaves_slowly(top_cm: float) -> None:
    times = np.arange(0.8, 1.8, 1 / 60)
    parts = parts_of(lifted(times - HIT, top_cm), times)
    assert parts.half_rise is not None
    assert parts.half_rise < 0.45
    assert parts.energy_ratio is not None
    assert parts.energy_ratio < 0.1
    assert rise_kind(lift_index(parts)) == "lifted"


def test_a_stick_that_leaves_fast_and_is_lifted_further_is_not_called_free() -> None:
    times = np.arange(0.8, 1.8, 1 / 60)
    both = np.maximum(ballistic(times - HIT, 8.0), lifted(times - HIT, 24.0))
    assert rise_kind(lift_index(parts_of(both, times))) != "free"


def test_the_rebound_is_the_first_top_and_the_preparation_the_last() -> None:
    times = np.arange(0.0, 2.4, 1 / 60)
    next_hit = 2.0
    height = ballistic(times - HIT, 9.0)
    falls = np.clip((times - HIT - 0.16) / 0.1, 0, 1)
    height = np.where(times > HIT + 0.16, 9.0 - 3.0 * falls, height)
    raised = 6.0 + lifted(times - 1.5, 18.0, 0.25)
    height = np.where(times > 1.5, raised, height)
    thrown = np.clip((times - 1.85) / (next_hit - 1.85), 0, 1)
    height = np.where(times > 1.85, 24.0 * (1 - thrown**2), height)
    seen = way(times, height)
    rebound, preparation = seen.rebound(HIT, next_hit), seen.preparation(next_hit, HIT)
    assert rebound is not None
    assert preparation is not None
    assert rebound.height_cm == pytest.approx(9.0, abs=0.4)
    assert preparation.height_cm == pytest.approx(24.0, abs=0.2)


def test_a_rise_that_stops_on_its_way_has_its_rebound_there() -> None:
    times = np.arange(0.8, 2.0, 1 / 120)
    height = ballistic(times - HIT, 8.0) + lifted(times - 1.4, 12.0)
    rebound = way(times, height).rebound(HIT, np.inf)
    assert rebound is not None
    assert rebound.height_cm == pytest.approx(8.0, abs=0.3)


@pytest.mark.parametrize("fps", [30.0, 60.0])
def test_a_top_between_two_frames_is_found_by_a_parabola(fps: float) -> None:
    for phase in np.linspace(0, 1, 7):
        times = np.arange(phase / fps, 2.0, 1 / fps)
        height = np.maximum(20.0 - 2 * G * (times - 1.0) ** 2, 0.0)
        top = way(times, height).preparation(1.1, 0.0)
        assert top is not None
        assert top.height_cm == pytest.approx(20.0, abs=0.01)


def test_a_way_is_carried_on_to_a_hit_from_both_sides() -> None:
    times = np.arange(0.8, 1.2, 1 / 60)
    height = np.where(
        times < HIT, 60 * (HIT - times) + 900 * (HIT - times) ** 2, ballistic(times - HIT, 12.0)
    )
    np.testing.assert_allclose(list(way(times, height + 5.0).carried_to(HIT)), 5.0, atol=0.05)


def test_too_few_frames_or_too_small_a_rise_give_no_parts() -> None:
    times = np.arange(0.8, 1.8, 1 / 60)
    assert way(times, ballistic(times - HIT, 2.0)).parts(HIT, Peak(1.07, 2.0, 0.2)) == LiftParts()
    few = np.arange(0.8, 1.8, 1 / 12)
    assert way(few, ballistic(few - HIT, 8.0)).parts(HIT, Peak(1.13, 8.0, 0.2)) == LiftParts()
    assert lift_index(LiftParts()) is None
    assert rise_kind(None) is None


def test_nothing_seen_gives_no_heights() -> None:
    nothing = way(np.zeros(0), np.zeros(0))
    assert nothing.preparation(1.0, 0.0) is None
    assert nothing.rebound(1.0, 2.0) is None
