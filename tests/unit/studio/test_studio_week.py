"""A week as it is typed: what it adds up to, how it changes, what it weighs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from evenhand.acts.weeks.document import plan_from_json, plan_to_json
from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.errors import WrongOptions
from evenhand.music.book import Book
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.lesson import REST_S
from evenhand.planning.practice import PracticeDay, PracticePlan
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.values import BookEntry, Student, Week
from evenhand.studio.weeks.next import (
    newest_draft,
    next_start,
    playable_book,
    read_options,
    recorded_words,
    shown_advice,
    shown_load,
    titles_of,
)
from evenhand.studio.weeks.typed import (
    FIELDS,
    TypedRow,
    TypedWeek,
    add_up,
    changed,
    plan_of,
    read_row,
    read_week,
    typed_week,
)
from evenhand.take import in_words
from tests.studios import NOON

MONDAY = date(2026, 3, 2)
SINGLE = "1/8: RLRR LRLL"


def a_row(day: int = 1, **changes: str) -> TypedRow:
    facts = {"exercise": SINGLE, "stroke": "tap", "tempo": "1/8 = 60", "rest": "12", **changes}
    return TypedRow(day, **facts)


def test_a_row_takes_its_goes_with_count_ins_pauses_and_rest() -> None:
    # By hand: 4 times 8 eighths at 1/8 = 60 are 32 s, the count-in 4 s: 36 s. Two with a pause of 10 s, and a
    # rest of 12 s, are 94 s; one with its rest is 48 s, whatever its pause.
    week = TypedWeek((a_row(goes="2", pause="10"), a_row(2, pause="10")), 2)
    added = add_up(week)
    assert added.days_s == (94.0, 48.0)
    assert added.strokes == {"R": 4 * 4 * 3, "L": 4 * 4 * 3}  # four right, four left; 4 times; three goes
    assert added.wrong == 0


@pytest.mark.parametrize("stage", [stage.name for stage in COMMON_PATH.stages])
def test_a_proposed_week_that_is_not_touched_stays_as_it_was(stage: str) -> None:
    plan = plan_week(WeekRequest(15, 3, stage, starts=MONDAY), COMMON_PATH)
    typed = typed_week(plan)
    again = plan_of(typed, add_up(typed, titles_of([])), student="", starts=MONDAY)
    assert plan_to_json(replace(again, story=plan.story)) == plan_to_json(plan)


def test_a_row_keeps_its_block_and_what_it_is_for() -> None:
    week = TypedWeek((a_row(block="focus", purpose="The left hand catches up."), a_row(block="sideways")), 1)
    (day,) = plan_of(week, add_up(week), student="", starts=MONDAY).days
    first, second = day.items
    assert (first.block, first.purpose) == ("focus", in_words("The left hand catches up."))
    assert (second.block, second.purpose) == (None, ())


def test_a_week_that_was_planned_in_rounds_is_laid_out_in_goes() -> None:
    """Two turns of 36 s around one of another exercise: as long as before, and nothing of it lost."""
    turn = add_up(TypedWeek((a_row(rest="8"),), 1)).rows[0].item
    other = add_up(TypedWeek((a_row(exercise="1/8: RRLL", rest="20"),), 1)).rows[0].item
    assert turn
    assert other
    old = PracticePlan((PracticeDay((turn, other, replace(turn, rest_s=13.0))),))
    typed = typed_week(old)
    assert [(row.exercise, row.goes) for row in typed.rows] == [(SINGLE, "2"), ("1/8: RRLL", "1")]
    assert add_up(typed).days_s == (old.days[0].seconds,)


@pytest.mark.parametrize("act", ["longer", "shorter"])
@pytest.mark.parametrize("goes", ["1", "3"])
def test_an_item_is_made_longer_and_shorter_by_half_minutes(act: str, goes: str) -> None:
    """Whole half minutes come out, to the second, and no rest is shorter than it was or than the least."""
    week = TypedWeek((a_row(goes=goes, pause="10", repetitions="8"),), 1)
    before = add_up(week).days_s[0]
    after = add_up(changed(week, f"{act}:0"))
    assert after.days_s[0] % 30 == 0
    assert 0 < (after.days_s[0] - before) * (1 if act == "longer" else -1) <= 30
    item = after.rows[0].item
    assert item
    assert item.rest_s >= min(12.0, REST_S)


def test_what_cannot_be_made_shorter_stays() -> None:
    week = TypedWeek((a_row(repetitions="1"),), 1)  # 12 s and a rest of 12 s
    assert changed(week, "shorter:0") == week
    assert changed(TypedWeek((a_row(tempo="fast"),), 1), "longer:0").rows[0].repetitions == "4"


def test_why_and_title_are_said_of_the_exercise_they_were_said_of() -> None:
    row = a_row(was=SINGLE, why="the left hand is weak", title="Paradiddle")
    kept, other = (
        read_row(each, {}).item
        for each in (row, a_row(exercise="1/8: RRLL", was=SINGLE, why="x", title="Paradiddle"))
    )
    assert kept
    assert other
    assert (kept.why, kept.title) == (in_words("the left hand is weak"), "Paradiddle")
    assert (other.why, other.title) == ((), "")
    named = read_row(replace(row, was=""), {SINGLE: "Mine"}).item  # typed anew
    assert named
    assert named.title == "Mine"


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"exercise": ""}, "exercise", "choose or type an exercise"),
        ({"exercise": "1/8: RLXR"}, "exercise", "at its character 8: found 'X'"),
        ({"exercise": "1/8: ----"}, "exercise", "found rests only"),
        ({"tempo": "fast"}, "tempo", "such as 1/8=70"),
        ({"repetitions": "0"}, "repetitions", "a whole number, 1 to 999"),
        ({"goes": "2.5"}, "goes", "a whole number, 1 to 99"),
        ({"rest": "nan"}, "rest", "must be seconds, 0 to 600"),
        ({"pause": "long"}, "pause", "must be seconds, 0 to 600"),
        ({"rest": "-1"}, "rest", "must be seconds, 0 to 600"),
    ],
)
def test_what_cannot_be_read_is_named(changes: dict[str, str], field: str, words: str) -> None:
    week = TypedWeek((a_row(1, **changes), a_row()), 1)
    added = add_up(week)
    assert added.wrong == 1
    assert words in added.rows[0].wrong[field]
    assert added.days_s == (48.0,)
    with pytest.raises(WrongOptions, match="rows without a mistake"):
        plan_of(week, added, student="", starts=MONDAY)


def test_a_week_without_an_exercise_is_none() -> None:
    week = TypedWeek((), 3)
    with pytest.raises(WrongOptions, match="at least one"):
        plan_of(week, add_up(week), student="", starts=MONDAY)


def names(week: TypedWeek) -> list[tuple[int, str]]:
    return [(row.day, row.tempo) for row in week.rows]


THREE = TypedWeek((a_row(1, tempo="a"), a_row(1, tempo="b"), a_row(2, tempo="a")), 2)


@pytest.mark.parametrize(
    ("act", "after"),
    [
        ("remove:0", [(1, "b"), (2, "a")]),
        ("up:1", [(1, "b"), (1, "a"), (2, "a")]),
        ("up:0", [(1, "a"), (1, "b"), (2, "a")]),
        ("down:1", [(1, "a"), (1, "b"), (2, "a")]),
        ("everywhere:0", []),
        ("add:1", [(1, "a"), (1, "b"), (1, "b"), (2, "a")]),
        ("same:1", [(1, "a"), (1, "b"), (2, "a"), (2, "b")]),
        ("drop:1", [(1, "a")]),
        ("drop:3", [(1, "a"), (1, "b"), (2, "a")]),
        ("remove:77", [(1, "a"), (1, "b"), (2, "a")]),
        ("nonsense", [(1, "a"), (1, "b"), (2, "a")]),
    ],
)
def test_what_a_button_does(act: str, after: list[tuple[int, str]]) -> None:
    assert names(changed(THREE, act)) == after


def test_an_exercise_is_put_on_every_day_once() -> None:
    put = changed(THREE, "put:1/4 = 90;1/8: RRLL")
    assert names(put) == [(1, "a"), (1, "b"), (1, "1/4 = 90"), (2, "a"), (2, "1/4 = 90")]
    assert {row.exercise for row in put.rows if row.tempo == "1/4 = 90"} == {"1/8: RRLL"}
    assert changed(put, "put:1/4 = 60;1/8: RRLL") == put
    assert changed(THREE, "put:;") == changed(THREE, "put") == THREE
    assert names(changed(TypedWeek((), 1), "put:;1/8: RRLL")) == [(1, "1/8 = 80")]


def test_leaving_a_day_out_leaves_a_day_less() -> None:
    assert changed(THREE, "drop:1").days == 1
    assert changed(changed(THREE, "drop:1"), "drop:1").days == 1


def test_a_form_is_read_as_it_was_sent_and_a_torn_one_refused() -> None:
    fields: dict[str, list[str]] = {name: ["1"] for name in FIELDS}
    assert read_week(fields, 3).days == 3
    with pytest.raises(WrongOptions, match="do not fit together"):
        read_week({**fields, "tempo": []}, 3)
    with pytest.raises(WrongOptions, match="at most 400"):
        read_week({name: ["1"] * 401 for name in FIELDS}, 3)


def a_student(**changes: Any) -> Student:
    return Student("s", "Ines Varga", "tap", NOON, **changes)


def a_week(starts: date, *, sent: bool = True, plan: str | None = None, stage: str = "tap") -> Week:
    rows = TypedWeek((a_row(),), 1)
    text = plan or plan_to_json(plan_of(rows, add_up(rows), student="", starts=starts))
    return Week(starts.isoformat(), "s", starts, stage, text, sent_at=NOON if sent else None)


def test_a_week_begins_with_the_next_lesson() -> None:
    # 2 March 2026 is a Monday.
    assert next_start(a_student(), MONDAY) == MONDAY
    assert next_start(a_student(lesson_day=0), MONDAY) == MONDAY
    assert next_start(a_student(lesson_day=2), MONDAY) == date(2026, 3, 4)
    assert next_start(a_student(lesson_day=6), MONDAY) == date(2026, 3, 8)
    sent = a_week(date(2026, 3, 4))
    assert next_start(a_student(lesson_day=2), MONDAY, [sent]) == date(2026, 3, 11)


def test_a_draft_is_gone_on_with_until_a_week_is_sent_or_it_is_over() -> None:
    draft = a_week(MONDAY, sent=False)
    assert newest_draft([draft], MONDAY) is draft
    assert newest_draft([a_week(MONDAY), draft], MONDAY) is None
    assert newest_draft([draft], MONDAY + timedelta(days=7)) is None
    assert newest_draft([a_week(MONDAY, sent=False, plan="no plan")], MONDAY) is None


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("starts", "soon", "must be a day such as 2026-03-02"),
        ("starts", "1926-03-02", "a day of these times"),
        ("stage", "wizard", "must be one of rebound, half"),
        ("minutes", "0", "must be 1 to 240"),
        ("minutes", "nan", "must be 1 to 240"),
        ("days", "8", "must be 1 to 7"),
        ("days", "2.5", "a whole number"),
        ("words", "a" * 5001, "at most 5000 characters"),
    ],
)
def test_what_is_wrong_in_the_head_is_named(field: str, typed: str, words: str) -> None:
    head = {"starts": "2026-03-04", "stage": "tap", "minutes": "20", "days": "5", field: typed}
    options, wrong = read_options(head, MONDAY, COMMON_PATH)
    assert options is None
    assert words in wrong[field]


def test_the_book_is_what_can_be_played_of_it() -> None:
    entries = [BookEntry("1", SINGLE, "Mine"), BookEntry("2", "no exercise"), BookEntry("3", "1/8: ----")]
    book = playable_book(entries)
    assert isinstance(book, Book)
    assert [entry.title for entry in book.entries] == ["Mine"]
    assert playable_book([]) is None
    marked = BookEntry("1", SINGLE, "Mine", mark="[never: building speed]")
    again = playable_book([marked], COMMON_PATH)
    assert again
    assert again.entries[0].use_at("speed in bursts") == "never"  # as it is called now
    assert titles_of(entries) == {SINGLE: "Mine"}
    assert titles_of([])[SINGLE] == "Single paradiddle"


def test_a_week_is_weighed_beside_the_one_before() -> None:
    # 16 strokes of each hand before, 20 now: a quarter more is not over a quarter; 24 is half more.
    before = a_week(MONDAY)
    plan = plan_from_json(a_week(MONDAY).plan, name="it")
    rows = TypedWeek((a_row(repetitions="5"),), 1)
    five = plan_of(rows, add_up(rows), student="", starts=MONDAY)
    load = shown_load(five, MONDAY + timedelta(days=7), [before])
    assert [line[:3] for line in load.lines] == [("2 Mar", "16", "16"), ("9 Mar", "20", "20")]
    assert "strokes" not in load.jumps
    rows = TypedWeek((a_row(repetitions="6"),), 1)
    six = plan_of(rows, add_up(rows), student="", starts=MONDAY)
    jump = shown_load(six, MONDAY + timedelta(days=7), [before]).jumps
    assert jump.startswith("This week over the one before: both hands strokes +50 %")
    assert shown_load(plan, MONDAY, []).jumps == ""


def test_the_path_s_advice_is_a_proposal_and_says_nothing_of_the_command_line() -> None:
    advice = shown_advice(History(), COMMON_PATH, "tap", None, MONDAY)
    assert advice is not None
    assert advice.headline == "Can't tell yet"
    assert advice.decides == "This is a proposal. The teacher decides."
    assert not any("--" in note for note in advice.notes)
    assert shown_advice(History(), COMMON_PATH, "wizard", None, MONDAY) is None


def test_what_was_recorded_is_said_with_the_week_s_monday() -> None:
    """28 November 2026 is a Saturday."""
    exercise, tempo = parse_exercise("1/8: RLRL"), Tempo.parse("1/8 = 60")
    strokes = {"R": 40, "L": 40}
    take = PastTake(date(2026, 11, 28), "take", exercise, tempo, "tap", 90.0, strokes, {}, (), ())
    assert recorded_words(History((take,))) == "80 strokes in 1 min 30 s, in the week from 23 Nov"
    assert recorded_words(History()) == ""
