"""Which day stands on the stand, and how much of it was played."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from evenhand.acts.weeks.document import plan_to_json
from evenhand.errors import BadExercise, BadPlan, BadTempo, WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.words.figures import day_name
from evenhand.report.words.practice import item_words
from evenhand.studio.stand.day import free_item, seconds_of, stand_day, takes_since
from evenhand.studio.values import Student, StudioFacts, StudioTake, Week
from evenhand.studio.weeks.day import sheet_of_week

MONDAY = date(2026, 3, 2)


def item(text: str, seconds: float = 60.0, **changes: Any) -> PracticeItem:
    return PracticeItem(parse_exercise(text), Tempo.parse("1/8=84"), 4, seconds, **changes)


def a_week(days: int = 5) -> Week:
    """Give a week of days alike: two exercises, 60 s and 90 s, each with a rest of 30 s after it."""
    day = PracticeDay((item("1/8: RL", rest_s=30.0), item("1/8: RRLL", 90.0, rest_s=30.0)))
    return Week("w", "s", MONDAY, "half", plan_to_json(PracticePlan((day,) * days)))


def a_take(**changes: Any) -> StudioTake:
    at = datetime(2026, 3, 2, 12, tzinfo=UTC)
    wanted = {
        "id": "t",
        "student_id": "s",
        "upload_key": "k",
        "exercise": "1/8: RL",
        "tempo": "1/8 = 84",
        "recorded_at": at,
        "received_at": at,
        "source": "microphone",
        "status": "heard",
        "seconds": 60.0,
        **changes,
    }
    return StudioTake(**wanted)


@pytest.mark.parametrize(
    ("after", "number"),
    [(0, 1), (1, 2), (2, 3), (4, 4), (5, 5)],  # five days of a week lie on its days 0, 1, 2, 4, 5
)
def test_a_plans_day_is_shown_on_its_date(after: int, number: int) -> None:
    assert stand_day(a_week(), MONDAY + timedelta(days=after)).number == number


def test_between_the_days_one_goes_on_where_one_left_off() -> None:
    done = [a_take(facts={"week": "w", "day": "1", "item": str(n)}, seconds=90.0) for n in (1, 2)]
    thursday = MONDAY + timedelta(days=3)
    assert stand_day(a_week(), thursday).number == 1
    assert stand_day(a_week(), thursday, done[:1]).number == 1  # half of it is left
    assert stand_day(a_week(), thursday, done).number == 2


def test_a_week_that_is_over_goes_on_where_one_left_off_and_says_that_it_is_over() -> None:
    """Four of five days were practised, none of them whole: not the first day again, a week late."""
    some = [
        a_take(facts={"week": "w", "day": str(day), "item": "1"}, seconds=30.0, id=str(day))
        for day in (1, 2, 3, 4)
    ]
    day = stand_day(a_week(), MONDAY + timedelta(days=7), some)
    assert (day.number, day.standing, day.is_today) == (4, "over", False)
    assert stand_day(a_week(), MONDAY + timedelta(days=40)).standing == "over"


def test_a_week_may_be_begun_early_and_what_was_played_early_counts() -> None:
    saturday = MONDAY - timedelta(days=2)
    week = replace(a_week(), created_at=datetime(2026, 2, 28, 9, tzinfo=UTC))
    day = stand_day(week, saturday)
    assert (day.number, day.standing, day.is_today) == (1, "early", False)
    early = [a_take(facts={"week": "w", "day": "1", "item": "1"}, seconds=60.0)]
    assert stand_day(week, saturday, early).items[0].done
    assert takes_since(week) == week.created_at
    assert takes_since(a_week()) == datetime.combine(MONDAY, time()).astimezone()


def test_another_day_can_be_asked_for_and_one_that_is_not_there_is_passed_over() -> None:
    assert stand_day(a_week(), MONDAY, wanted=4).number == 4
    assert stand_day(a_week(), MONDAY, wanted=9).number == 1


def test_what_was_played_is_added_up_and_the_next_item_is_the_first_not_done() -> None:
    takes = [a_take(seconds=20.0, facts={"week": "w", "day": "1", "item": "1"}, id=str(i)) for i in range(3)]
    day = stand_day(a_week(), MONDAY, takes)
    assert day.items[0].played_s == 60.0
    assert day.items[0].done
    assert day.next is day.items[1]
    assert day.seconds == 60 + 30 + 90 + 30
    assert day.minutes == 4  # 210 s, rounded to even


def test_a_take_of_another_week_another_day_or_that_failed_does_not_count() -> None:
    takes = [
        a_take(facts={"week": "other", "day": "1", "item": "1"}),
        a_take(facts={"week": "w", "day": "2", "item": "1"}),
        a_take(facts={"week": "w", "day": "1", "item": "1"}, status="failed"),
        a_take(facts={"week": "w", "day": "1", "item": "1"}, model=True),
        a_take(facts={"week": "w", "day": "1", "item": "nonsense"}),
    ]
    assert [each.played_s for each in stand_day(a_week(), MONDAY, takes).items] == [0.0, 0.0]


def test_a_take_without_facts_counts_for_its_exercise_on_its_day() -> None:
    takes = [a_take(exercise="1/8: RRLL", seconds=45.0), a_take(exercise="not an exercise", seconds=45.0)]
    assert [each.played_s for each in stand_day(a_week(), MONDAY, takes).items] == [0.0, 45.0]


@pytest.mark.parametrize(
    ("facts", "seconds"), [({"seconds": "12.5"}, 12.5), ({"seconds": "nan"}, 0.0), ({"seconds": "x"}, 0.0)]
)
def test_before_it_is_heard_a_take_is_as_long_as_the_device_said(
    facts: dict[str, str], seconds: float
) -> None:
    assert seconds_of(a_take(seconds=None, facts=facts)) == seconds


def test_a_plan_that_cannot_be_read_is_refused() -> None:
    with pytest.raises(BadPlan, match="this week's plan"):
        stand_day(Week("w", "s", MONDAY, "half", "no plan"), MONDAY)


def test_an_item_is_said_with_height_tempo_times_and_seconds() -> None:
    """Heights: taps 3 to 5 inches, 8 to 13 cm (common practice, ``music/strokes/heights.py``)."""
    tap = item("1/8: RL", 90.0, stroke="tap")
    assert item_words(tap, "in") == "Taps, 3–5 in. 1/8 = 84. 4 times, about 1 min 30 s."
    assert item_words(tap, "cm") == "Taps, 8–13 cm. 1/8 = 84. 4 times, about 1 min 30 s."
    assert item_words(item("1/8: RL"), "in", free=True) == "1/8 = 84."


def test_a_free_item_is_what_was_typed_or_refused_by_name() -> None:
    assert free_item("1/8: RLRR LRLL", "1/4=80").sticking == "1/8: RLRR LRLL"
    with pytest.raises(BadExercise):
        free_item("RLX", "1/4=80")
    with pytest.raises(BadTempo):
        free_item("1/8: RL", "fast")


def test_a_student_cannot_have_thousands_of_notes_drawn() -> None:
    """Before, a page with 4,096 notes took 3.8 s, as often as somebody asked."""
    assert len(free_item("1/16: " + "RLRR" * 128, "1/4=80").item.exercise.notes) == 512
    with pytest.raises(WrongOptions, match="512 notes at most"):
        free_item("1/16: " + "RLRR" * 1024, "1/4=80")


@pytest.mark.parametrize("days", [1, 3, 5, 7])
def test_the_sheet_has_the_stands_days(days: int) -> None:
    """A sheet from the desk, one from the stand and the stand itself name the same dates."""
    student = Student("s", "Ida Quill", "half", datetime(2026, 1, 5, tzinfo=UTC))
    found = sheet_of_week(
        a_week(days), student, StudioFacts("Quill Lane", demo=False, created_at=student.created_at)
    )
    assert found.studio == "Quill Lane"
    shown = [stand_day(a_week(days), MONDAY, wanted=number).on for number in range(1, days + 1)]
    assert [day.name for day in found.days] == [day_name(on) for on in shown]
