"""Strokes and minutes a week are counted as a hand would count them on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from evenhand.errors import BadPlan
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.load import (
    HandLoad,
    Jump,
    WeekLoad,
    assigned_load,
    jumps_of,
    recorded_load,
    strokes_of,
)
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.progress.history import History, PastTake

TEMPO = Tempo.parse("1/8=70")
MONDAY = date(2026, 3, 9)


def item(text: str, repetitions: int, seconds: float, rest_s: float = 0.0) -> PracticeItem:
    return PracticeItem(parse_exercise(text), TEMPO, repetitions, seconds, rest_s=rest_s)


def plan(*days: tuple[PracticeItem, ...], starts: date | None = None) -> PracticePlan:
    return PracticePlan(tuple(PracticeDay(items) for items in days), starts=starts)


def take(day: date, right: int, left: int, *, seconds: float = 60.0, clear: bool = True) -> PastTake:
    strokes = {"R": right, "L": left}
    exercise = parse_exercise("1/8: RL")
    return PastTake(day, "take.wav", exercise, TEMPO, None, seconds, strokes, {}, (), (), clear=clear)


def week(name: str, right: int, left: int, minutes: float = 10.0) -> WeekLoad:
    return WeekLoad(name, None, 1, 1, minutes, {"R": HandLoad(right, minutes), "L": HandLoad(left, minutes)})


def test_every_blow_counts_graces_too_and_rests_do_not() -> None:
    """By hand: lR is one left and one right; llR two left and one right; R~ one; a rest none."""
    assert strokes_of(parse_exercise("1/8: lR llR R~ - L")) == {"R": 3, "L": 4}


def test_a_plan_is_counted_as_on_paper() -> None:
    """By hand: RLRR LRLL has 4 and 4, ten times; RRRR has 4, five times; rests are no minutes."""
    (found,) = assigned_load(
        [plan((item("1/8: RLRR LRLL", 10, 90, rest_s=30), item("1/8: RRRR", 5, 30)), ())]
    ).weeks
    assert found.hands == {"R": HandLoad(60, 2.0), "L": HandLoad(40, 1.5)}
    assert (found.name, found.monday, found.days, found.pieces, found.minutes) == ("week 1", None, 1, 2, 2.0)


def test_a_dated_plan_is_in_the_week_its_first_day_lies_in() -> None:
    """2026-03-15 is a Sunday: of ISO week 11, whose Monday is 9 March (by the calendar)."""
    (found,) = assigned_load([plan((item("1/8: RL", 1, 1),), starts=date(2026, 3, 15))]).weeks
    assert (found.name, found.monday) == ("2026-W11", MONDAY)


def test_iso_weeks_at_the_turn_of_the_year() -> None:
    """ISO 8601: 1 January 2027 is a Friday, of week 53 of 2026."""
    (found,) = recorded_load(History((take(date(2027, 1, 1), 1, 1),))).weeks
    assert (found.name, found.monday) == ("2026-W53", date(2026, 12, 28))


def test_plans_without_a_date_follow_the_one_before_and_go_ahead_of_the_first_dated() -> None:
    one = (item("1/8: RL", 1, 1),)
    found = assigned_load([plan(one), plan(one, starts=date(2026, 3, 16)), plan(one)])
    assert [each.name for each in found.weeks] == ["2026-W11", "2026-W12", "2026-W13"]
    assert [each.name for each in assigned_load([plan(one), plan(one)]).weeks] == ["week 1", "week 2"]


def test_a_plan_of_more_than_seven_days_goes_on_into_the_next_week() -> None:
    days = [(item("1/8: R", 1, 1),)] * 10
    assert [each.days for each in assigned_load([plan(*days)]).weeks] == [7, 3]


def test_two_plans_for_one_week_add_up() -> None:
    one = plan((item("1/8: RL", 3, 6),), starts=MONDAY)
    (found,) = assigned_load([one, replace(one, starts=date(2026, 3, 12))]).weeks
    assert found.hands["R"] == HandLoad(6, 0.2)


@pytest.mark.parametrize(
    "starts", [date(9999, 12, 27), date(1, 1, 3)], ids=["after the last", "before the first"]
)
def test_weeks_that_no_calendar_has_are_refused(starts: date) -> None:
    one = (item("1/8: RL", 1, 1),)
    with pytest.raises(BadPlan, match="no calendar"):
        assigned_load([plan(one), plan(one, starts=starts), plan(one)])


def test_takes_are_counted_by_week_and_day() -> None:
    takes = (
        take(MONDAY, 40, 30, seconds=90),
        take(date(2026, 3, 15), 20, 0, seconds=30),
        take(date(2026, 3, 15), 1, 1, seconds=0),
        take(date(2026, 3, 30), 5, 5, seconds=6),
    )
    first, last = recorded_load(History(takes)).weeks
    assert first.hands == {"R": HandLoad(61, 2.0), "L": HandLoad(31, 1.5)}
    assert (first.days, first.pieces, first.empty_before) == (2, 3, 0)
    assert (last.name, last.empty_before) == ("2026-W14", 2)


def test_a_take_that_does_not_tell_its_hands_counts_for_neither() -> None:
    (found,) = recorded_load(
        History((take(MONDAY, 40, 30, clear=False), take(MONDAY, 2, 1, seconds=30)))
    ).weeks
    assert found.hands == {"R": HandLoad(2, 0.5), "L": HandLoad(1, 0.5)}
    assert (found.unknown_strokes, found.minutes) == (70, 1.5)


def test_nothing_recorded_is_no_week() -> None:
    assert recorded_load(History()).weeks == ()


def test_a_quarter_more_is_no_jump_and_more_than_that_is_one() -> None:
    """The convention, at its edge: 100 to 125 is a quarter, 126 is more."""
    assert jumps_of([week("1", 100, 100), week("2", 125, 100)]) == ()
    (jump,) = jumps_of([week("1", 100, 100), week("2", 126, 100)])
    assert jump == Jump("2", "1", "R", "strokes", 100, 126)
    assert jump.rise_percent == pytest.approx(26)


def test_minutes_jump_too_and_less_is_never_a_jump() -> None:
    found = jumps_of([week("1", 100, 100, 10.0), week("2", 90, 80, 12.6), week("3", 10, 10, 1.0)])
    assert [(jump.hand, jump.figure) for jump in found] == [("R", "minutes"), ("L", "minutes")]


def test_a_hand_that_begins_is_a_jump_from_none() -> None:
    (jump,) = jumps_of([week("1", 100, 0), week("2", 100, 40)])
    assert (jump.hand, jump.before, jump.rise_percent) == ("L", 0, None)


def test_a_rise_of_exactly_a_quarter_in_minutes_is_none_for_any_sums() -> None:
    """5.515 s four and five times over: added up in floats, the second is a hair over a quarter more."""
    one = plan(*[(item("1/8: RL", 4, 5.515),)] * 4, starts=MONDAY)
    more = plan(*[(item("1/8: RL", 4, 5.515),)] * 5, starts=date(2026, 3, 16))
    assert assigned_load([one, more]).jumps == ()
