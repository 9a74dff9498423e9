"""Which clicks a bar has, and which bars are silent."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.bars import exercise_bar, meter_bar
from evenhand.music.click_pattern import ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.pulse import (
    Bar,
    Change,
    Stretch,
    TempoMap,
    all_clicks,
    bar_kind,
    clicks_of,
    parse_meter,
    stretches,
)

WALTZ = Bar(Fraction(0), Fraction(3, 4), "played", number=0)
COURSE = TempoMap((Stretch.steady(Tempo.parse("1/4=60"), Fraction(9, 4)),))


def test_a_bar_has_its_beats_and_the_first_stands_out() -> None:
    clicks = clicks_of(WALTZ, Fraction(1, 4), COURSE)
    assert [click.time_s for click in clicks] == [0, 1, 2]
    assert [click.kind for click in clicks] == ["first", "beat", "beat"]


def test_beats_are_parted_evenly() -> None:
    clicks = clicks_of(WALTZ, Fraction(1, 4), COURSE, ClickPattern.parse("between=3"))
    assert [click.time_s for click in clicks] == [Fraction(k, 3) for k in range(9)]
    assert [click.kind for click in clicks[:4]] == ["first", "between", "between", "beat"]


def test_a_bar_without_accent_begins_with_a_plain_beat() -> None:
    assert clicks_of(Bar(Fraction(0), Fraction(1, 4), "played", accented=False), Fraction(1, 4), COURSE)[
        0
    ].kind == ("beat")


def test_silent_bars_have_no_clicks() -> None:
    pattern = ClickPattern.parse("silent=1:1")
    bars = [Bar(k * Fraction(3, 4), Fraction(3, 4), bar_kind(pattern, k), number=k) for k in range(3)]
    clicks = all_clicks(bars, Fraction(1, 4), COURSE, pattern)
    assert [click.time_s for click in clicks] == [0, 1, 2, 6, 7, 8]


def tempos(text: str, rounds: int, change: Change) -> list[float]:
    """Return the tempo of each bar."""
    tempo = Tempo.parse("1/4=60")
    laid = TempoMap(stretches(tempo, Fraction(1), rounds, change, pattern=ClickPattern.parse(text)))
    return [laid.tempo(Fraction(bar)).bpm for bar in range(rounds)]


def test_a_step_and_a_silence_are_never_at_the_same_place() -> None:
    """Two bars heard, two silent; a step is due at bars 4 and 8, where one comes in again: it waits a bar."""
    found = tempos("silent=2:2", 12, Change(Fraction(5), 4))
    assert found == [60, 60, 60, 60, 60, 65, 65, 65, 65, 70, 70, 70]


def test_a_step_due_in_silence_waits_until_it_is_heard() -> None:
    """Due at bar 3, which is silent, and at bar 6; bars 4 and 5 are heard, and so are 8 and 9."""
    assert tempos("silent=2:2", 10, Change(Fraction(5), 3)) == [60, 60, 60, 60, 60, 65, 65, 65, 65, 70]


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("silent=1:1", Change(Fraction(5))),
        ("bar/2", Change(Fraction(5), 4)),
        ("silent=2:2", Change(to=Tempo.parse("1/4=90"))),
        ("fade=4:8", Change(to=Tempo.parse("1/4=90"))),
    ],
)
def test_no_tempo_changes_unheard(text: str, change: Change) -> None:
    with pytest.raises(WrongOptions):
        tempos(text, 8, change)


@pytest.mark.parametrize("text", ["0/4", "4/0", "4/3", "4", "4/4/4", "-3/4", "65/4", "4/128", "four/4", ""])
def test_a_meter_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(WrongOptions, match="such as 4/4"):
        parse_meter(text)


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
