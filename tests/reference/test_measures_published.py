"""Measures against published figures and figures worked by hand.

Sources: Wing & Kristofferson 1973 (two-level model), Friberg & Sundberg 1995 and Drake & Botte 1993 (what an
ear can tell).
"""

from __future__ import annotations

import pytest

from evenhand.measuring.measure import measure
from evenhand.measuring.values import audible_ms, audible_tempo_share
from evenhand.music.exercise import Tempo
from tests.players import FAST, heard_of, written


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


@pytest.mark.parametrize(("interval", "heard_from"), [(100, 6), (240, 6), (500, 12.5), (1000, 25)])
def test_a_displacement_is_heard_from_6_ms_or_a_fortieth(interval: float, heard_from: float) -> None:
    """Friberg & Sundberg 1995."""
    assert audible_ms(interval) == pytest.approx(heard_from)


@pytest.mark.parametrize(("intervals", "share"), [(0, 6), (1, 6), (2, 4), (3, 4), (4, 3.2), (6, 3), (60, 3)])
def test_a_change_of_tempo_is_heard_the_sooner_the_longer_it_lasts(intervals: int, share: float) -> None:
    """Drake & Botte 1993."""
    assert 100 * audible_tempo_share(intervals) == pytest.approx(share)
