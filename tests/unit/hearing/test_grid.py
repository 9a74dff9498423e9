"""The smooth tempo. Oracle: a local straight line with tricube weights (Cleveland 1979), written out here."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.hearing.alignment.score import smooth_at, smooth_times
from tests.unit.hearing.sounds import evenly

Array = NDArray[np.float64]
Ints = NDArray[np.intp]


def line_at(i: int, times_s: Array, written: Array, numbers: Ints, stretches: Ints) -> float:
    """Fit a straight line around one hit by weighted least squares, and read it there."""
    far = np.abs(numbers - numbers[i]) / 17  # 16 notes to either side have a say, the 17th none
    near = (far < 1) & (stretches == stretches[i])
    weight = (1 - far[near] ** 3) ** 3
    slope, base = np.polyfit(written[near], times_s[near], 1, w=np.sqrt(weight))
    return float(slope * written[i] + base)


@pytest.fixture
def playing(rng: np.random.Generator) -> tuple[Array, Array, Ints, Ints]:
    """Give 90 notes with gaps, a tempo that wanders, and a stop after 50."""
    numbers = np.sort(rng.choice(120, 90, replace=False)).astype(np.intp)
    written = numbers / 8 + 0.02 * (numbers % 3)
    stretches = (np.arange(90) >= 50).astype(np.intp)
    times = 2 * written + 0.05 * np.sin(written) + rng.normal(0, 0.01, 90) + 3.0 * stretches
    return times, written, numbers, stretches


def test_the_smooth_tempo_is_clevelands_local_line(playing: tuple[Array, Array, Ints, Ints]) -> None:
    expected = [line_at(i, *playing) for i in range(90)]
    np.testing.assert_allclose(smooth_times(*playing), expected, atol=1e-9)


def test_a_straight_performance_does_not_deviate_at_all() -> None:
    """At any tempo, with rests and missed notes, and with a stop."""
    numbers = np.array([0, 1, 2, 5, 6, 9, 16, 17, 18, 19, 40, 41, 48, 49, 50])
    stretches = np.array([0] * 6 + [1] * 6 + [2] * 3)
    written = numbers / 16
    times = 1.7 * written + 0.31 + 2.9 * stretches
    np.testing.assert_allclose(smooth_times(times, written, numbers, stretches), times, atol=1e-12)


def test_a_late_hand_in_an_even_exercise_stands_half_its_lateness_to_either_side() -> None:
    """By hand: R on time, L 10 ms late, alternating: the line runs 5 ms after R, far from the ends."""
    numbers = np.arange(80)
    times = 0.1 * numbers + 0.010 * (numbers % 2)
    off_ms = 1000 * (times - smooth_times(times, numbers / 16, numbers, np.zeros(80, dtype=np.intp)))
    np.testing.assert_allclose(off_ms[20:60:2], -5, atol=0.1)
    np.testing.assert_allclose(off_ms[21:60:2], 5, atol=0.1)


def test_a_hit_that_is_not_trusted_does_not_bend_the_line() -> None:
    numbers, trust = np.arange(30), np.ones(30)
    times = 0.2 * numbers.astype(np.float64)
    times[12] += 0.5
    trust[12] = 0
    smooth = smooth_times(times, numbers / 8, numbers, np.zeros(30, dtype=np.intp), trust)
    np.testing.assert_allclose(smooth, 0.2 * numbers, atol=1e-9)


@pytest.mark.parametrize("n", [0, 1, 2])
def test_the_fewest_hits_lie_on_their_own_line(n: int) -> None:
    times, numbers = np.array([1.0, 1.4])[:n], np.arange(n)
    smooth = smooth_times(times, numbers / 8, numbers, np.zeros(n, dtype=np.intp))
    np.testing.assert_allclose(smooth, times, atol=1e-9)


def test_a_missed_note_is_due_where_the_line_runs() -> None:
    """In its own stretch: the other runs three seconds later."""
    numbers = np.delete(np.arange(40), [7, 8, 31])
    stretches = (numbers >= 20).astype(np.intp)
    times = 0.25 * numbers + 3.0 * stretches
    for stretch, wanted in ((0, np.array([7, 8])), (1, np.array([31]))):
        due = smooth_at(wanted, wanted / 8, stretch, times, numbers / 8, numbers, stretches)
        np.testing.assert_allclose(due, 0.25 * wanted + 3.0 * stretch, atol=1e-9)


def test_a_note_far_from_all_others_is_due_by_the_nearest_of_them() -> None:
    numbers = np.append(np.arange(5), np.arange(60, 65))
    times = evenly(0.0, 0.25, 65)[numbers]
    due = smooth_at(np.array([30]), np.array([30 / 8]), 0, times, numbers / 8, numbers, numbers * 0)
    assert due == pytest.approx(7.5, abs=1e-6)
