"""One rule says which week and which day of it is practised."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from evenhand.studio.values import Week
from evenhand.studio.weeks.day import day_to_practise, standing_of, weeks_now

MONDAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def a_week(name: str, starts: date, *, sent: int | None = 0) -> Week:
    """Give a week, sent so many hours after noon, or a draft."""
    at = None if sent is None else NOON + timedelta(hours=sent)
    return Week(name, "s", starts, "tap", "", sent_at=at)


@pytest.mark.parametrize(
    ("after", "week", "beside"),
    [
        (-1, "last", "this"),
        (0, "this", "later"),
        (6, "this", "later"),
        (7, "later", None),
        (14, "later", None),
    ],
)
def test_the_week_is_the_newest_sent_that_has_begun(after: int, week: str, beside: str | None) -> None:
    """By hand: weeks of 23 February, 2 and 9 March were sent; another of 2 March is a draft."""
    weeks = [
        a_week("later", MONDAY + timedelta(days=7)),
        a_week("draft", MONDAY, sent=None),
        a_week("this", MONDAY),
        a_week("last", MONDAY - timedelta(days=7)),
    ]
    found = weeks_now(weeks, MONDAY + timedelta(days=after))
    assert found.week is not None
    assert (found.week.id, found.beside.id if found.beside else None) == (week, beside)


def test_a_week_sent_on_saturday_for_tuesday_is_there_at_once() -> None:
    saturday, tuesday = date(2026, 2, 28), date(2026, 3, 3)
    alone = weeks_now([a_week("new", tuesday)], saturday)
    assert (alone.week and alone.week.id, alone.beside) == ("new", None)
    over, on = a_week("old", tuesday - timedelta(days=14)), a_week("now", tuesday - timedelta(days=7))
    ahead = weeks_now([a_week("new", tuesday), over], saturday)
    assert (ahead.week and ahead.week.id, ahead.beside and ahead.beside.id) == ("new", "old")
    both = weeks_now([a_week("new", tuesday), on, over], saturday)
    assert (both.week and both.week.id, both.beside and both.beside.id) == ("now", "new")


def test_of_two_weeks_of_the_same_day_the_one_sent_last_counts() -> None:
    weeks = [a_week("first", MONDAY), a_week("second", MONDAY, sent=2)]
    found = weeks_now(weeks, MONDAY)
    assert found.week is not None
    assert found.week.id == "second"
    assert weeks_now([a_week("draft", MONDAY, sent=None)], MONDAY).week is None


def test_only_the_students_own_weeks_can_be_named() -> None:
    found = weeks_now([a_week("now", MONDAY), a_week("next", MONDAY + timedelta(days=7))], MONDAY)
    named = {name: found.named(name) for name in ("next", "another's", "")}
    assert {name: week.id if week else None for name, week in named.items()} == {
        "next": "next",
        "another's": "now",
        "": "now",
    }


@pytest.mark.parametrize(("after", "standing"), [(-1, "early"), (0, "running"), (6, "running"), (7, "over")])
def test_a_week_lasts_seven_days(after: int, standing: str) -> None:
    assert standing_of(a_week("w", MONDAY), MONDAY + timedelta(days=after)) == standing


def test_a_day_is_todays_else_where_one_left_off() -> None:
    """Days 1 to 4 lie on Monday, Tuesday, Thursday, Friday; nothing stands on day 5."""
    dates = {n: MONDAY + timedelta(days=after) for n, after in ((1, 0), (2, 1), (3, 3), (4, 4))}
    wednesday = MONDAY + timedelta(days=2)
    assert day_to_practise(dates, {1, 2}, {1, 2}, MONDAY + timedelta(days=3)) == 3
    assert day_to_practise(dates, {1, 2}, {1, 2}, wednesday) == 3
    assert day_to_practise(dates, {1, 2}, {1}, wednesday) == 2
    assert day_to_practise(dates, {2}, {2}, wednesday) == 3  # the first was skipped, and stays so
    assert day_to_practise(dates, {1, 2, 3, 4}, {1, 2, 3, 4}, MONDAY + timedelta(days=8)) == 4
    assert day_to_practise(dates, set(), set(), wednesday) == 1
