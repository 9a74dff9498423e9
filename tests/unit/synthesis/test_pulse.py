"""Which clicks a bar has, and which bars are silent."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.pulse import (
    Bar,
    Silence,
    Stretch,
    TempoMap,
    all_clicks,
    clicks_of,
    exercise_bar,
    meter_bar,
    parse_meter,
    parse_silence,
)

WALTZ = Bar(Fraction(0), Fraction(3, 4), "played")
COURSE = TempoMap((Stretch.steady(Tempo.parse("1/4=60"), Fraction(9, 4)),))


def test_a_bar_has_its_beats_and_the_first_stands_out() -> None:
    clicks = clicks_of(WALTZ, Fraction(1, 4), COURSE)
    assert [click.time_s for click in clicks] == [0, 1, 2]
    assert [click.kind for click in clicks] == ["first", "beat", "beat"]


def test_beats_are_parted_evenly() -> None:
    clicks = clicks_of(WALTZ, Fraction(1, 4), COURSE, between=3)
    assert [click.time_s for click in clicks] == [Fraction(k, 3) for k in range(9)]
    assert [click.kind for click in clicks[:4]] == ["first", "between", "between", "beat"]


def test_a_bar_without_accent_begins_with_a_plain_beat() -> None:
    assert clicks_of(Bar(Fraction(0), Fraction(1, 4), "played", accented=False), Fraction(1, 4), COURSE)[
        0
    ].kind == ("beat")


def test_silent_bars_have_no_clicks() -> None:
    bars = [Bar(k * Fraction(3, 4), Fraction(3, 4), Silence(1, 1).kind(k)) for k in range(3)]
    assert [click.time_s for click in all_clicks(bars, Fraction(1, 4), COURSE)] == [0, 1, 2, 6, 7, 8]


def test_silence_goes_round() -> None:
    heard = [Silence(2, 1).kind(bar) for bar in range(6)]
    assert heard == ["played", "played", "silent"] * 2


@pytest.mark.parametrize("text", ["0/4", "4/0", "4/3", "4", "4/4/4", "-3/4", "65/4", "4/128", "four/4", ""])
def test_a_meter_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(WrongOptions, match="such as 4/4"):
        parse_meter(text)


@pytest.mark.parametrize("text", ["2", "2:", "0:2", "2:0", "2:2:2", "a:b", "-1:2", "2.5:1", "99999:1"])
def test_a_silence_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(WrongOptions, match="bars heard and bars silent"):
        parse_silence(text)


def test_a_bar_must_hold_whole_beats() -> None:
    assert meter_bar(parse_meter("6/8"), Tempo.parse("3/8=60")) == Fraction(3, 4)
    with pytest.raises(WrongOptions, match=r"a bar of 7/8 and a beat of 1/4; must be .* given in 1/8"):
        meter_bar(parse_meter("7/8"), Tempo.parse("1/4=60"))


@pytest.mark.parametrize(
    ("text", "tempo", "bar", "accented"),
    [
        ("6/8 1/8: RLRLRL", "1/8=140", Fraction(6, 8), True),  # as written
        ("1/8: RLRR LRLL", "1/8=140", Fraction(1, 2), True),  # eight beats: bars of four
        ("1/8: RLL RLL", "1/4=80", Fraction(3, 4), True),  # three beats: the repetition
        ("1/16: RLRRL", "1/4=80", Fraction(1), False),  # a beat and a quarter: goes across
    ],
)
def test_an_exercise_has_its_bar(text: str, tempo: str, bar: Fraction, accented: bool) -> None:  # noqa: FBT001 - a table's column
    assert exercise_bar(parse_exercise(text), Tempo.parse(tempo)) == (bar, accented)
