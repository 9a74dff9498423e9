"""Where the click falls in changing and additive meters and around a pickup; places counted by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.bars import check_pattern, clicks_along, count_in_length
from evenhand.music.click_pattern import ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise


def clicked(text: str, tempo: str, eighths: int, pattern: str = "") -> str:
    """Write the clicks eighth by eighth: X a first beat, x a beat, . one between, - none."""
    asked = parse_exercise(text), Tempo.parse(tempo), ClickPattern.parse(pattern)
    due = {p.at * 8: p.kind for p in clicks_along(*asked, Fraction(eighths, 8), counted=True)}
    assert all(at.denominator == 1 for at in due)
    signs = {"first": "X", "beat": "x", "between": "."}
    return "".join(signs.get(due.get(Fraction(k), ""), "-") for k in range(eighths))


@pytest.mark.parametrize(
    ("text", "tempo", "clicks"),
    [
        ("2+2+3/8 1/8: RL RL RLR", "1/8=200", "X-x-x-- X-x-x-- X-x-x--"),
        ("3+2+2/8 1/8: RLR RL RL", "1/8=200", "X--x-x- X--x-x- X--x-x-"),
        ("7/8 1/8: RLRLRLR", "1/8=200", "Xxxxxxx Xxxxxxx"),  # not grouped: the tempo's eighths
        ("7/8 1/8: RLRLRLR", "1/4=100", "X-x-x-- X-x-x--"),  # quarters do not fill it
        ("4/4 1/8: RLRR LRLL | 3/4 RLRLRL |", "1/4=100", "X-x-x-x- X-x-x-x- X-x-x- X-x-x-x-"),
        ("4/4 1/8: RLRR LRLL | 6/8 RLRLRL |", "1/4=100", "X-x-x-x- X-x-x-x- X--x-- X-x-x-x-"),
        ("2/4 1/8: RLRL | 3/8 RLR |", "1/4=100", "X-x- X-x- X-x- X-- X-x- X--"),
        # A pickup of two eighths: three are counted, the fourth is its own.
        ("4/4 pickup 1/8: RL | RLRR LRLL |", "1/4=80", "X-x-x- x- X-x-x-x- x- X-x-x-x-"),
        # The last bar and the pickup are one bar.
        ("4/4 pickup 1/8: RL | RLRR LRLL | RLRR LR", "1/4=80", "X-x-x- x- X-x-x-x- X-x-x- x- X-x-x-x-"),
        ("3/4 pickup 1/8: R | RLRLR", "1/4=80", "X-x-x - X-x-x - X-x-x"),
        # Three beats of pickup: a bar more is counted.
        ("4/4 pickup 1/4: RLR | RLRL |", "1/4=80", "X-x-x-x- X- x-x-x- X-x-x-x-"),
    ],
)
def test_the_click_follows_the_meter(text: str, tempo: str, clicks: str) -> None:
    clicks = clicks.replace(" ", "")
    assert clicked(text, tempo, len(clicks)) == clicks


@pytest.mark.parametrize(
    ("pattern", "clicks"),
    [
        ("2+2+3/8", "X-x-x-- X.x.x.. X.x.x.."),
        ("2-and-4", "X-x-x-- --x---- --x----"),
        ("bar/2", "X-x-x-- X------ -------"),
        ("silent=1:1", "X-x-x-- X-x-x-- -------"),
        ("fade=1:1", "X-x-x-- X-x-x-- X-x-x-- -------"),  # and never again
        ("plain", "x-x-x-- x-x-x-- x-x-x--"),
    ],
)
def test_patterns_go_by_the_groups(pattern: str, clicks: str) -> None:
    clicks = clicks.replace(" ", "")
    assert clicked("2+2+3/8 1/8: RL RL RLR", "1/8=200", len(clicks), pattern) == clicks


def test_a_pickup_keeps_its_place_in_the_bar() -> None:
    """Beat 4 is a pickup's own; the first beat of a bar is never in it; it is silent with the bar before."""
    text = "4/4 pickup 1/8: RL | RLRR LRLL |"
    assert clicked(text, "1/4=80", 18, "2-and-4") == "X-x-x-" + "x-" + "--x---x-" + "x-"
    assert clicked(text, "1/4=80", 18, "bar") == "X-x-x-" + "--" + "X-------" + "--"
    assert (
        clicked(text, "1/4=80", 28, "silent=1:1") == "X-x-x-" + "x-" + "X-x-x-x-" + "x-" + "--------" + "--"
    )
    assert count_in_length(parse_exercise(text), Tempo.parse("1/4=80")) == Fraction(3, 4)


def test_groups_that_do_not_fill_each_bar_are_refused() -> None:
    exercise = parse_exercise("4/4 1/8: RLRR LRLL | 3/4 RLRLRL |")
    with pytest.raises(WrongOptions, match="groups that fill the bar"):
        check_pattern(exercise, Tempo.parse("1/4=80"), ClickPattern.parse("3+3+2/8"))
