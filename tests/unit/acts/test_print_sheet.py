"""A lesson sheet is made of exercises, of a book or of a week's plan."""

from __future__ import annotations

from datetime import date

import pytest

from evenhand.acts.weeks.sheet import Practice, entries_of, sheet_of_exercises, sheet_of_plan
from evenhand.errors import BadExercise, WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.print.lesson_sheet import LessonSheet, Task, Turn
from evenhand.take import in_words

PARADIDDLE, DOUBLES = "1/8: RLRR LRLL", "1/8: RRLL RRLL"


def an_item(text: str, seconds: float, bpm: int = 70, **more: object) -> PracticeItem:
    stroke: StrokeClass = "half"
    item = PracticeItem(parse_exercise(text), Tempo.parse(f"1/8={bpm}"), 4, seconds, stroke)
    return PracticeItem(**{**{name: getattr(item, name) for name in item.__slots__}, **more})


def a_plan() -> PracticePlan:
    """Give three days: two turns of one exercise around another; the first faster; rest."""
    first = an_item(PARADIDDLE, 60, rest_s=10, why=in_words("Loads the left hand."), title="Paradiddle")
    other = an_item(DOUBLES, 90)
    faster = an_item(PARADIDDLE, 60, bpm=76, why=in_words("It was steady at 70."))
    days = (PracticeDay((first, other, first)), PracticeDay((faster,)), PracticeDay(()))
    return PracticePlan(days, "Mira Anselm", date(2026, 11, 30))


def test_exercises_share_what_to_do_and_their_minutes() -> None:
    tempo = Tempo.parse("1/8=70")
    practice = Practice(tempo, "half", 4, minutes=15, days=3)
    sheet = sheet_of_exercises(entries_of([PARADIDDLE, DOUBLES]), practice, LessonSheet())
    assert [each.tasks for each in sheet.exercises] == [(Task(tempo, "half", 4, 450.0),)] * 2
    assert [(day.name, day.seconds) for day in sheet.days] == [("Day 1", 900), ("Day 2", 900), ("Day 3", 900)]
    assert sheet.days[0].turns == (Turn(0), Turn(1))


def test_an_exercise_may_bring_its_title() -> None:
    first, second = entries_of(["1/8: RL # Singles #2", " 1/8: RL "])
    assert (first.title, second.title) == ("Singles #2", "")


def test_an_exercise_that_cannot_be_read_is_refused_by_its_column() -> None:
    with pytest.raises(BadExercise, match="column 6: found 'Q'"):
        entries_of(["1/8: QL"])


def test_a_plans_exercise_stands_once_with_each_way_it_is_practised() -> None:
    first, second = sheet_of_plan(a_plan(), LessonSheet()).exercises
    assert first.tasks == (
        Task(Tempo.parse("1/8=70"), "half", 4, 60, (10,), days=(0,)),
        Task(Tempo.parse("1/8=76"), "half", 4, 60, days=(1,)),
    )
    assert (first.title, first.why) == ("Paradiddle", "Loads the left hand. It was steady at 70.")
    assert second.tasks == (Task(Tempo.parse("1/8=70"), "half", 4, 90),)


def test_a_plans_days_keep_the_order_of_their_turns() -> None:
    days = sheet_of_plan(a_plan(), LessonSheet()).days
    assert [turn.exercise for turn in days[0].turns] == [0, 1, 0]
    assert [turn.exercise for turn in days[1].turns] == [0]
    assert [day.seconds for day in days] == [60 + 10 + 90 + 60 + 10, 60, None]


def test_a_plans_days_have_the_names_of_the_calendar() -> None:
    """30 November 2026 is a Monday: ISO week 49 of 2026 begins with it. Three days are spread over it."""
    assert [day.name for day in sheet_of_plan(a_plan(), LessonSheet()).days] == ["Mon 30", "Wed 2", "Fri 4"]


def test_without_a_first_day_they_are_counted() -> None:
    plan = PracticePlan(a_plan().days)
    assert [day.name for day in sheet_of_plan(plan, LessonSheet()).days] == ["Day 1", "Day 2", "Day 3"]


def test_a_plan_says_who_and_when_where_nothing_else_does() -> None:
    plain = sheet_of_plan(a_plan(), LessonSheet())
    assert (plain.student, plain.on) == ("Mira Anselm", date(2026, 11, 30))
    said = sheet_of_plan(a_plan(), LessonSheet(student="Tomas Brand", on=date(2026, 12, 7)))
    assert (said.student, said.on) == ("Tomas Brand", date(2026, 12, 7))


@pytest.mark.parametrize(
    "link", ["studio.example/mira", "javascript:alert(1)", "https://a b", "https://a\nb"]
)
def test_a_link_that_is_no_address_is_refused(link: str) -> None:
    with pytest.raises(WrongOptions, match="must be an address such as https://"):
        sheet_of_exercises(entries_of([PARADIDDLE]), Practice(), LessonSheet(link=link))


@pytest.mark.parametrize("count", [0, 201])
def test_a_sheet_holds_what_can_be_handed_out(count: int) -> None:
    with pytest.raises(WrongOptions, match="must be 1 to 200 on a sheet"):
        sheet_of_exercises(entries_of([PARADIDDLE]) * count, Practice(), LessonSheet())


def test_what_rises_from_day_to_day_is_told_in_one_task() -> None:
    """Five tempos of a week stand in one line, not in five blocks: a sheet is two pages, not nine."""
    exercise = parse_exercise("1/8: RLRR LRLL")
    days = tuple(
        PracticeDay((PracticeItem(exercise, Tempo.parse(f"1/8={bpm}"), times, 30.0, "tap", 8.0),))
        for bpm, times in ((80, 4), (84, 5), (88, 6))
    )
    (each,) = sheet_of_plan(PracticePlan(days), LessonSheet()).exercises
    (task,) = each.tasks
    assert list(task.bpm_by_day) == [80, 84, 88]
    assert list(task.times_by_day) == [4, 5, 6]
    assert each.repetitions is None


def test_a_day_without_the_exercise_is_a_gap_in_its_course() -> None:
    exercise, other = parse_exercise("1/8: RLRR LRLL"), parse_exercise("1/8: RRLL")
    played = [
        PracticeDay((PracticeItem(exercise, Tempo.parse(f"1/8={bpm}"), 4, 30.0, "tap", 8.0),))
        for bpm in (80, 84, 88)
    ]
    rest = PracticeDay((PracticeItem(other, Tempo.parse("1/8=80"), 4, 30.0, "tap", 8.0),))
    first, _ = sheet_of_plan(PracticePlan((played[0], rest, *played[1:])), LessonSheet()).exercises
    assert list(first.tasks[0].bpm_by_day) == [80, None, 84, 88]
    assert first.repetitions == 4
