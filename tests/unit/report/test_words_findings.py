"""Figures and notes in words."""

from __future__ import annotations

import pytest

from evenhand.measuring.values import Measure
from evenhand.report.words.figures import plain, sized, sized_way
from evenhand.report.words.findings import note_in_words
from tests.players import written


@pytest.mark.parametrize(
    ("value", "interval", "unit", "said"),
    [
        (9.2, (7.0, 11.4), "ms", "9 ms (7 to 11)"),
        (-9.2, (-11.4, -7.0), "ms", "9 ms (7 to 11)"),
        (1.0, (0.4, 1.6), "ms", "1.0 ms (0.4 to 1.6)"),
        (0.6, (-1.4, 2.6), "ms", "1 ms (−1 to 3)"),
        (2.04, (1.5, 2.58), "dB", "2.0 dB (1.5 to 2.6)"),
        (-0.01, (-0.04, 0.02), "dB", "0.0 dB (0.0 to 0.0)"),
        (8.0, (7.0, 9.5), "%", "8 % (7 to 10)"),
    ],
)
def test_a_size_is_said_the_way_it_lies(
    value: float, interval: tuple[float, float], unit: str, said: str
) -> None:
    assert sized(Measure(value, 9, unit, interval)) == said


def test_a_share_is_said_without_a_unit() -> None:
    assert sized(Measure(0.448, 9, "share", (0.441, 0.46)), "") == "0.45 (0.44 to 0.46)"


def test_a_figure_without_an_interval_stands_for_its_own() -> None:
    assert sized_way(Measure(3.0, 3, "ms"), "late") == "3.0 ms late (3.0 to 3.0)"


def test_halves_go_up_and_nothing_has_no_minus() -> None:
    assert (plain(0.5, 0), plain(2.5, 0), plain(-0.01, 1)) == ("1", "3", "0.0")


@pytest.mark.parametrize(
    ("text", "position", "name"),
    [
        ("RLRR LRLL", 4, "note 5, the left after the double right"),
        ("RLRR LRLL", 3, "note 4, the second right in a row"),
        ("RLRR LRLL", 0, "note 1, the right after the double left"),
        ("RL", 1, "note 2, the left after the right"),
        ("RRRL", 3, "note 4, the left after the triple right"),
        ("RRRRRL", 5, "note 6, the left after the run of rights"),
        ("RRRRRL", 4, "note 5, the fifth right in a row"),
        ("R-L", 2, "note 2, the left after the right"),
        ("RR", 0, "note 1, the right"),
    ],
)
def test_a_note_is_named_by_its_hand_change(text: str, position: int, name: str) -> None:
    assert note_in_words(written(text), position) == name
