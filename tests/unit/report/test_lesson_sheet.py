"""The lesson sheet's data: what is said of each exercise, and the tables to tick."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.print.lesson_sheet import (
    BeatNote,
    LessonSheet,
    SheetDay,
    SheetExercise,
    Task,
    Turn,
    music_px,
    sheet_data,
    tick_tables,
)
from evenhand.report.words.figures import PRACTICE_CAUTION

TEMPO = Tempo.parse("1/8=70")
TEXT = "1/8: RL"


def an_exercise(title: str = "Singles", *tasks: Task) -> SheetExercise:
    return SheetExercise(parse_exercise(TEXT), TEXT, title, tasks)


def a_sheet(*exercises: SheetExercise, count: int = 2, **more: Any) -> LessonSheet:
    """Give a sheet of so many days, all exercises on each."""
    turns = tuple(Turn(index) for index in range(len(exercises)))
    days = tuple(SheetDay(f"Day {number}", turns) for number in range(1, count + 1))
    return LessonSheet(exercises, **{"days": days, **more})


def data(sheet: LessonSheet, beats: dict[Tempo, BeatNote] | None = None) -> Any:
    """Give the sheet's data, with a drawing of one line for each exercise's music."""
    svg = '<svg xmlns="x" viewBox="0 0 100 40" fill="currentColor"><path d="M0 0h9v9z"/></svg>'
    line = EngravedLine(svg, 100.0, 40.0, (EngravedNote(0, 20.0), EngravedNote(1, 60.0)), 90.0)
    return sheet_data(sheet, [EngravedExercise((line,))] * len(sheet.exercises), beats or {})


def lines(task: Task, **more: Any) -> list[list[Any]]:
    """Give what is said of one task, a list of unbroken pieces for each line."""
    tasks: list[Any] = data(a_sheet(an_exercise("", task), **more))["exercises"][0]["tasks"]
    return [line for each in tasks for line in each["lines"]]


def test_a_task_says_tempo_stroke_how_often_and_how_long() -> None:
    assert lines(Task(TEMPO, "half", 4, 900)) == [
        [{"note": None, "text": "1/8 = 70"}],
        ["half strokes", "6–9 in"],
        ["4 repetitions", "15 min"],
    ]


def test_the_tempo_has_its_note_drawn_where_there_is_one() -> None:
    said = data(a_sheet(an_exercise("", Task(TEMPO))), {TEMPO: BeatNote("<svg/>", 0.5, 1.0)})
    (piece,) = said["exercises"][0]["tasks"][0]["lines"][0]
    assert piece["text"] == "= 70"
    assert (piece["note"]["svg"], piece["note"]["words"]) == ("<svg/>", "eighth note")


@pytest.mark.parametrize(
    ("stroke", "unit", "said"),
    [
        # Common practice: taps 3-5 in, halves 6-9 in, fulls to upright; 1 in = 2.54 cm.
        ("tap", "in", ["taps", "3–5 in"]),
        ("half", "cm", ["half strokes", "15–23 cm"]),
        ("full", "in", ["full strokes", "stick upright", "10–12 in"]),
    ],
)
def test_a_stroke_has_its_heights_in_the_unit_asked_for(stroke: Any, unit: Any, said: list[str]) -> None:
    assert lines(Task(stroke=stroke), unit=unit) == [said]


def test_a_rest_is_said_where_there_is_one() -> None:
    assert lines(Task(repetitions=1, rests_s=(30,))) == [["1 repetition"], ["then 30 s of rest"]]
    assert lines(Task(repetitions=1, rests_s=(30, 45, 60))) == [
        ["1 repetition"],
        ["then 30 s to 1 min of rest"],
    ]


def test_what_is_not_known_is_not_said() -> None:
    assert lines(Task()) == []


def test_what_is_the_same_is_said_once_and_what_differs_by_its_days() -> None:
    ways = (Task(stroke="tap", repetitions=2, days=(0,)), Task(stroke="tap", repetitions=3, days=(1,)))
    assert data(a_sheet(an_exercise("", *ways)))["exercises"][0]["tasks"] == [
        {"days": "", "lines": [["taps", "3–5 in"]]},
        {"days": "Day 1", "lines": [["2 repetitions"]]},
        {"days": "Day 2", "lines": [["3 repetitions"]]},
    ]


def test_the_music_is_said_in_words() -> None:
    said = data(a_sheet(an_exercise("", Task(repetitions=4))))
    assert said["exercises"][0]["music"][0]["words"] == "Eighth notes: R L. 4 repetitions."


def test_the_head_says_who_when_and_how_much() -> None:
    day = SheetDay("Day 1", (Turn(0),), 1200.0)
    said = data(a_sheet(an_exercise(), days=(day, day), student="Mira Anselm", on=date(2026, 11, 30)))
    assert said["student"] == "Mira Anselm"
    assert said["line"] == ["30 November 2026", "20 min a day", "2 days"]
    assert said["title"] == "This week’s practice – Mira Anselm – 30 November 2026"
    assert said["date"] == [2026, 11, 30]


def test_days_that_differ_are_only_counted_and_days_of_rest_are_not() -> None:
    days = tuple(
        SheetDay("", turns, sec) for turns, sec in [((Turn(0),), 60.0), ((Turn(0),), 90.0), ((), None)]
    )
    assert data(a_sheet(an_exercise(), days=days))["line"] == ["2 days"]


def test_the_caution_is_on_every_sheet() -> None:
    assert data(a_sheet(an_exercise()))["caution"] == PRACTICE_CAUTION


def test_the_teachers_words_are_paragraphs() -> None:
    assert data(a_sheet(an_exercise(), words=" Slowly.\n\n\tLoose wrist. \n"))["words"] == [
        "Slowly.",
        "Loose wrist.",
    ]


def test_long_names_are_shortened_at_the_foot_only() -> None:
    said = data(a_sheet(an_exercise(), student="A" + "n" * 30 + " " + "B" * 30))
    assert len(said["foot"].split(" · ")[0]) == 50
    assert said["student"].endswith("B" * 30)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", [1, 6, 24])
def test_sixteen_notes_behind_a_meter_fit_on_a_line(count: int, paper: Any) -> None:
    """The engraver wants 34 px a note, and 85 px for clef, meter and repeat sign ahead of the first."""
    assert music_px(a_sheet(*[an_exercise()] * count, paper=paper)) >= 16 * 34 + 85


def test_each_exercise_has_a_box_for_each_of_its_days() -> None:
    (table,) = tick_tables(a_sheet(an_exercise("Singles"), an_exercise(""), count=3))
    assert table["days"] == ["Day 1", "Day 2", "Day 3"]
    box = {"boxes": 1, "text": ""}
    assert table["rows"] == [
        {"number": "1", "name": "Singles", "quiet": False, "cells": [box] * 3},
        {"number": "2", "name": "1/8: RL", "quiet": True, "cells": [box] * 3},
    ]


def test_a_plans_days_have_minutes_order_and_sum() -> None:
    """Two turns of 90 s around one of 30 s: 3 min and 30 s, with 30 s of rests 4 min."""
    days = (
        SheetDay("Mon 30", (Turn(0, 90.0), Turn(1, 30.0), Turn(0, 90.0)), 240.0),
        SheetDay("Tue 1", (), None),
    )
    (table,) = tick_tables(a_sheet(an_exercise("a"), an_exercise("b"), days=days))
    cells = {row["name"]: row["cells"] for row in table["rows"]}  # type: ignore[attr-defined] # what JSON is made of
    assert cells == {
        "a": [{"boxes": 2, "text": "3 min"}, None],
        "b": [{"boxes": 1, "text": "30 s"}, None],
        "in this order": [{"boxes": 0, "text": "1 2 1"}, None],
        "in all, rests too": [{"boxes": 0, "text": "4 min"}, None],
    }


def test_many_turns_are_boxed_once_and_counted() -> None:
    days = (SheetDay("Day 1", (Turn(0, 60.0),) * 5, 300.0),)
    (table,) = tick_tables(a_sheet(an_exercise(), days=days))
    assert table["rows"][0]["cells"] == [{"boxes": 1, "text": "× 5"}]  # type: ignore[index] # what JSON is made of


def test_more_than_a_week_has_a_table_for_each() -> None:
    first, second = tick_tables(a_sheet(an_exercise(), count=9))
    assert [first["name"], second["name"]] == ["Week 1, to tick", "Week 2, to tick"]
    assert second["days"] == ["Day 8", "Day 9"]
