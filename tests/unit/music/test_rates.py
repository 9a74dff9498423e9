"""How fast an exercise is for its busier hand, and where doubles turn, by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.music.writing.rates import (
    double_interval_s,
    hand_rates,
    rate_per_s,
    tempo_bounds,
    turn_per_s,
    turn_s,
)


@pytest.mark.parametrize(
    ("text", "right", "left"),
    [  # strokes in a whole note, from a hand's fastest three in a row
        ("1/16: RLRL", 8, 8),
        ("1/16: RRLL", 8, 8),  # 1/16 and 3/16: two in a quarter
        ("1/16: RLRR LRLL", 2 / (3 / 16), 2 / (3 / 16)),
        ("1/8: RRRR", 8, None),
        ("1/8: R---", 2, None),  # one in half a note
        ("1/32: RRLL 1/8: >R", 16, 2 / (1 / 4 + 1 / 32 - 1 / 32)),  # L: 1/32 and 7/32
        ("1/16: lRR rLL", 16, 16),  # the grace goes with its note: 1/16 and 1/16
        ("1/8: llR rrL", 8, 8),  # two graces are one stroke
    ],
)
def test_a_hands_fastest_three_strokes(text: str, right: float, left: float | None) -> None:
    rates = hand_rates(parse_exercise(text))
    assert rates["R"] == pytest.approx(right)
    assert rates.get("L") == (None if left is None else pytest.approx(left))


def test_tempos_at_which_a_hand_plays_so_many_strokes() -> None:
    """Singles in triplets: three of each hand in two quarters, so at 1/4 = 60 each plays 1.5 a second."""
    exercise = parse_exercise("1/12: RLR LRL")
    assert rate_per_s(exercise, Tempo.parse("1/4=60")) == pytest.approx(1.5)
    assert tempo_bounds(exercise, (0.75, 3.0), Fraction(1, 4)) == pytest.approx((30.0, 120.0))


def test_where_doubles_turn() -> None:
    """By will 150 ms (Fujii et al. 2009); from 1 in, 2 e sqrt(2h/g) = 115 ms at e = 0.8."""
    assert turn_s(10.16) == 0.150
    assert turn_s(2.54) == pytest.approx(0.1152, abs=1e-4)
    assert turn_per_s(10.16) == pytest.approx(1 / 0.3)
    doubles = parse_exercise("1/8: RRLL RRLL")
    at_the_turn = tempo_bounds(doubles, (turn_per_s(10.16),) * 2, Fraction(1, 8))[0]
    assert at_the_turn == pytest.approx(400.0)  # where evenhand strokes says so, too


def test_the_closest_notes_of_a_double() -> None:
    tempo = Tempo.parse("1/4=60")
    assert double_interval_s(parse_exercise("1/16: RLRR LRLL"), tempo) == pytest.approx(0.25)
    assert double_interval_s(parse_exercise("1/8: R 1/16: LL 1/8: R"), tempo) == pytest.approx(0.25)
    assert double_interval_s(parse_exercise("1/8: RLRL"), tempo) is None
    assert double_interval_s(parse_exercise("1/8: R-L-"), tempo) is None
