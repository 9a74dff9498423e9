"""Measures against published figures and figures worked by hand.

Sources: Wing & Kristofferson 1973 (two-level model; the worked values are arithmetic from its formulas, by
hand), the circular data set of the WaveMetrics example with Fisher's 1993 formulas, Friberg & Sundberg 1995
and Drake & Botte 1993 (what an ear can tell).
"""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.measuring.circular import circular, circular_ms
from evenhand.measuring.measure import measure
from evenhand.measuring.pairs import split
from evenhand.measuring.values import audible_ms, audible_tempo_share
from evenhand.music.exercise import Tempo
from tests.players import FAST, heard_of, written

CIRCULAR_DATA = (
    "5.06708 4.25635 0.405367 3.6483 5.67514 2.83757 3.6483 3.85098 "
    "1.62147 1.82415 5.26977 3.44562 0.810734 5.67514 2.63488 3.6483"
)


def test_two_level_split_of_six_intervals_dividing_by_their_number() -> None:
    """By hand: mean 500, squares 800/6, neighbours -200/6, so hand 33.33 and timekeeper 133.33 - 66.67."""
    found = split([510, 490, 520, 500, 490, 490])
    assert found is not None
    assert found.hand_ms2 == pytest.approx(33.3333, abs=1e-3)
    assert found.timekeeper_ms2 == pytest.approx(66.6667, abs=1e-3)
    assert found.lag1 == pytest.approx(-0.25, abs=1e-3)


def test_two_level_split_of_six_intervals_dividing_by_one_less() -> None:
    found = split([510, 490, 520, 500, 490, 490], spare=1)
    assert found is not None
    assert (found.hand_ms2, found.timekeeper_ms2) == pytest.approx((40.0, 80.0), abs=1e-9)


def test_at_the_models_boundary_the_timekeeper_is_perfect() -> None:
    """By hand: neighbours are exactly minus half the variance."""
    found = split([500, 520, 490, 510, 480, 500])
    assert found is not None
    assert found.lag1 == pytest.approx(-0.5)
    assert found.timekeeper_ms2 == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("intervals", [[505, 495] * 8, [500, 500, 500], [500, 501, 502, 503, 504]])
def test_where_the_models_signs_do_not_hold_there_is_no_split(intervals: list[float]) -> None:
    """A hand 5 ms late gives lag -0.94, below the model's -0.5; stillness or drift are none of it either."""
    assert split(intervals) is None


def test_one_hand_is_recovered_from_twenty_thousand_intervals() -> None:
    """Construction: timekeeper 10 ms, hand 5 ms; tolerances as worked for n = 20,000."""
    rng = np.random.default_rng(5)
    hand = rng.normal(0, 5, 20_001)
    found = split(500 + rng.normal(0, 10, 20_000) + np.diff(hand))
    assert found is not None
    assert found.hand_ms2 == pytest.approx(25, abs=2)
    assert found.timekeeper_ms2 == pytest.approx(100, abs=4)
    assert found.lag1 == pytest.approx(-1 / 6, abs=0.02)


@pytest.mark.parametrize("sticking", ["RL", "RRLL", "RLRR LRLL"])
def test_two_hands_are_recovered_and_a_late_hand_is_not_taken_for_them(sticking: str) -> None:
    """Construction: timekeeper 6 ms, right 3, left 7, left 8 ms late: variances within 3 standard errors."""
    exercise = written(sticking)
    heard = heard_of(
        exercise,
        repetitions=4000 // len(exercise.notes),
        late_ms={"L": 8.0},
        hand_ms={"R": 3.0, "L": 7.0},
        timekeeper_ms=6.0,
        seed=3,
    )
    found = measure(heard, exercise, Tempo.parse(FAST))
    keeper, right, left = found.timekeeper_sd_ms, found.hands["R"].hand_sd_ms, found.hands["L"].hand_sd_ms
    assert keeper is not None
    assert right is not None
    assert left is not None
    assert keeper.value == pytest.approx(6.0, abs=0.5)
    assert right.value == pytest.approx(3.0, abs=0.9)
    assert left.value == pytest.approx(7.0, abs=0.6)
    assert found.balance_timing_ms.value == pytest.approx(-8.0, abs=0.7)


def test_circular_data_set() -> None:
    """WaveMetrics' example: R-bar 0.228046, mean 3.84597, SD 1.71942, Z 0.832081, p 0.441939."""
    found = circular([float(angle) for angle in CIRCULAR_DATA.split()])
    assert found.n == 16
    assert found.length == pytest.approx(0.228046, abs=1e-4)
    assert found.mean == pytest.approx(3.84597, abs=1e-4)
    assert found.sd == pytest.approx(1.71942, abs=1e-4)
    assert found.rayleigh_z == pytest.approx(0.832081, abs=1e-4)
    assert found.rayleigh_p == pytest.approx(0.441939, abs=1e-4)


@pytest.mark.parametrize(
    ("asynchronies_ms", "mean", "length", "sd"),
    [([-30, -20, -25, -15, -10], -20.0, 0.996057, 7.0741), ([-10, 0, 10], 0.0, 0.994743, 8.1703)],
)
def test_circular_asynchronies(asynchronies_ms: list[float], mean: float, length: float, sd: float) -> None:
    """Worked from Fisher's formulas for a beat of 500 ms; negative is early."""
    found = circular_ms(asynchronies_ms, 500.0)
    assert found == pytest.approx((mean, length, sd), abs=1e-3)


def test_angles_that_point_nowhere_have_no_finite_spread() -> None:
    found = circular([0.0, np.pi, 0.0, np.pi])
    assert found.length == pytest.approx(0.0, abs=1e-12)
    assert found.sd > 7  # sqrt(-2 ln R) without bound as R goes to nothing


@pytest.mark.parametrize(("interval", "heard_from"), [(100, 6), (240, 6), (500, 12.5), (1000, 25)])
def test_a_displacement_is_heard_from_6_ms_or_a_fortieth(interval: float, heard_from: float) -> None:
    """Friberg & Sundberg 1995."""
    assert audible_ms(interval) == pytest.approx(heard_from)


@pytest.mark.parametrize(("intervals", "share"), [(0, 6), (1, 6), (2, 4), (3, 4), (4, 3.2), (6, 3), (60, 3)])
def test_a_change_of_tempo_is_heard_the_sooner_the_longer_it_lasts(intervals: int, share: float) -> None:
    """Drake & Botte 1993."""
    assert 100 * audible_tempo_share(intervals) == pytest.approx(share)
