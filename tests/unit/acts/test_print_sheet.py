"""A lesson sheet is made of exercises, of a book or of a week's plan."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from evenhand.acts.weeks.sheet import entries_of, print_sheet, sheet_of_exercises, sheet_of_plan
from evenhand.errors import BadExercise, WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.print.lesson_sheet import LessonSheet, Practice, SheetBlock
from evenhand.take import in_words

PARADIDDLE, DOUBLES = "1/8: RLRR LRLL", "1/8: RRLL RRLL"


def an_item(text: str, seconds: float, bpm: int = 70, **more: object) -> PracticeItem:
    stroke: StrokeClass = "half"
    item = PracticeItem(parse_exercise(text), Tempo.parse(f"1/8={bpm}"), 4, seconds, stroke)
    return PracticeItem(**{**{name: getattr(item, name) for name in item.__slots__}, **more})


def a_plan() -> PracticePlan:
    """Give three days: two turns of one exercise around another; the first faster; rest."""
    first = an_item(PARADIDDLE, 60, rest_s=10, why=in_words("Loads the left hand."), title="Paradiddle")
    other = an_item(DOUBLES, 90, goes=3, block="review")
    faster = an_item(PARADIDDLE, 60, bpm=76, purpose=in_words("Steady at 70."), stroke="tap")
    days = (PracticeDay((first, other, first)), PracticeDay((faster,)), PracticeDay(()))
    return PracticePlan(days, "Mira Anselm", date(2026, 11, 30), story=in_words("The left hand catches up."))


def test_exercises_share_what_to_do() -> None:
    practice = Practice(Tempo.parse("1/8=70"), "half", 4, minutes=15, days=3)
    sheet = sheet_of_exercises(entries_of([PARADIDDLE, DOUBLES]), practice, LessonSheet())
    assert sheet.practice is practice
    assert [each.text for each in sheet.exercises] == [PARADIDDLE, DOUBLES]
    assert sheet.days == ()


def test_an_exercise_may_bring_its_title() -> None:
    first, second = entries_of(["1/8: RL # Singles #2", " 1/8: RL "])
    assert (first.title, second.title) == ("Singles #2", "")


def test_an_exercise_that_cannot_be_read_is_refused_by_its_column() -> None:
    with pytest.raises(BadExercise, match="column 6: found 'Q'"):
        entries_of(["1/8: QL"])


def test_a_plans_exercise_stands_once_with_what_it_is_for() -> None:
    """Where its strokes differ, they stand with the blocks."""
    first, second = sheet_of_plan(a_plan(), LessonSheet()).exercises
    assert (first.title, first.purpose, first.stroke) == ("Paradiddle", "Loads the left hand.", None)
    assert (second.text, second.stroke) == (DOUBLES, "half")


def test_a_days_turns_that_are_alike_are_one_block() -> None:
    days = sheet_of_plan(a_plan(), LessonSheet()).days
    slow, fast = Tempo.parse("1/8=70"), Tempo.parse("1/8=76")
    assert days[0].blocks == (
        SheetBlock(0, 140.0, slow, 4, goes=2, stroke="half"),
        SheetBlock(1, 90.0, slow, 4, goes=3, block="review"),
    )
    assert days[1].blocks == (SheetBlock(0, 60.0, fast, 4, stroke="tap"),)
    assert days[2].blocks == ()


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


def test_a_week_has_its_story() -> None:
    assert sheet_of_plan(a_plan(), LessonSheet()).story == "The left hand catches up."


def test_a_usual_week_is_one_page() -> None:
    """Five days of six blocks from nine exercises, three of them a full bar of sixteenths."""
    texts = ["1/8: RLRL RLRL", "1/8: L-L- L-L-", PARADIDDLE, "1/8: lR rL lR rL", DOUBLES, "1/12: RLR LRL"]
    texts += ["1/16: >RLRL RLRL >RLRL RLRL", "1/16: RRLL RRLL RRLL RRLL", "4/4 1/16: RLRR LRLL RLRR LRLL"]
    items = [
        an_item(text, 150, rest_s=30, title="Its own name", purpose=in_words("To feel it.")) for text in texts
    ]
    days = tuple(PracticeDay(tuple(items[(day + 2 * place) % 9] for place in range(6))) for day in range(5))
    plan = PracticePlan(days, "Mira Anselm", date(2026, 11, 30), story=in_words("A story. " * 12))
    blank = LessonSheet(
        studio="Anselm Road", words="Let it fall.\nAnd again.", link="https://studio.example/p"
    )
    assert len(PdfReader(BytesIO(print_sheet(sheet_of_plan(plan, blank)))).pages) == 1
