"""Impacts to a few ms at any frame rate, the sound's shift, and whose each hit is."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.music.exercise import Hand
from evenhand.watching.impacts import impacts_of, shift_of, struck_by

G = 980.665


def stick(times_s: Floats, hits_s: Floats, top_cm: float = 15.0) -> Floats:
    """Give a stick's height: thrown down on each hit, up again by a steady force, resting between."""
    fall_s = np.sqrt(2 * top_cm / (3 * G))  # thrown with three times its weight
    height = np.full(times_s.size, top_cm)
    for hit in hits_s:
        before, after = hit - times_s, times_s - hit
        down = (before >= 0) & (before < fall_s)
        height[down] = top_cm * (1 - ((fall_s - before[down]) / fall_s) ** 2)
        rise_s = np.sqrt(2 * top_cm / G)
        up = (after >= 0) & (after < rise_s)
        height[up] = np.minimum(height[up], np.sqrt(2 * G * top_cm) * after[up] - G * after[up] ** 2 / 2)
    return height


def frames(fps: float, phase: float = 0.0) -> Floats:
    return np.arange(phase / fps, 8.0, 1 / fps)


@pytest.mark.parametrize("fps", [30.0, 60.0, 120.0, 240.0])
def test_an_impact_is_timed_far_within_a_frame(fps: float) -> None:
    hits = np.arange(0.7, 7.5, 0.6173)
    times = frames(fps, 0.37)
    found = impacts_of(times, stick(times, hits))
    assert found.times_s.size == hits.size
    assert np.abs(found.times_s - hits).max() < 0.3 / fps + 0.001
    assert abs(np.median(found.times_s - hits)) < 0.004


def test_a_stick_that_was_not_seen_has_no_impacts() -> None:
    times = frames(60)
    assert impacts_of(times, np.full(times.size, np.nan)).times_s.size == 0


@pytest.mark.parametrize("shift_s", [-0.12, 0.0, 0.04, 0.3])
def test_the_shift_is_found_though_the_playing_is_regular(shift_s: float) -> None:
    rng = np.random.default_rng(5)
    hits = np.arange(1.0, 7.0, 0.25) + rng.normal(0, 0.006, 24)
    times = frames(60)
    by_hand = {
        hand: impacts_of(times, stick(times, hits[i::2], 12.0)) for i, hand in enumerate[Hand](("R", "L"))
    }
    found = shift_of(hits + shift_s, by_hand)
    assert found == pytest.approx(shift_s, abs=0.003)


def test_no_shift_is_found_where_sound_and_picture_are_of_two_takes() -> None:
    rng = np.random.default_rng(6)
    times = frames(60)
    impacts = impacts_of(times, stick(times, np.arange(1.0, 7.0, 0.9)))
    others = np.sort(rng.uniform(0.5, 7.5, 40))
    assert shift_of(others, {"R": impacts}) is None


@pytest.mark.parametrize(
    "sticking", ["RLRLRLRLRLRLRLRLRLRLRLRL", "RRLLRRLLRRLLRRLLRRLLRRLL", "RLRRLRLLRLRRLRLLRLRRLRLL"]
)
def test_each_hit_is_the_hand_s_that_came_down(sticking: str) -> None:
    """Sixteenths at 90, 167 ms apart, at 60 frames a second."""
    hits = 1.0 + np.arange(len(sticking)) / 6
    times = frames(60)
    sticks, impacts = {}, {}
    for hand in ("R", "L"):
        own = hits[[letter == hand for letter in sticking]]
        height = stick(times, own, 6.0)
        sticks[hand], impacts[hand] = (times, height), impacts_of(times, height)
    found = struck_by(hits, sticks, impacts)  # type: ignore[arg-type]
    assert "".join(each.hand or "?" for each in found) == sticking
    assert min(each.probability or 0.0 for each in found) > 0.8


def test_a_hit_that_no_stick_made_has_no_hand() -> None:
    times = frames(60)
    height = stick(times, np.array([1.0, 2.0, 3.0]))
    (found,) = struck_by(np.array([2.5]), {"R": (times, height)}, {"R": impacts_of(times, height)})
    assert found.hand is None
