"""The lesson sheet's data: a day's blocks, what is said of each exercise, and what all share."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.music.engraving.beneath import LARGE_EM_UNITS, LARGE_GRACE_EM_UNITS
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.print.lesson_sheet import (
    PT_PER_PX,
    BeatNote,
    LessonSheet,
    Practice,
    SheetBlock,
    SheetDay,
    SheetExercise,
    SheetMusic,
    music_px,
    sheet_data,
)
from evenhand.report.words.figures import PRACTICE_CAUTION

TEMPO = Tempo.parse("1/8=70")
TEXT = "1/8: RL"


def an_exercise(title: str = "Singles", **more: Any) -> SheetExercise:
    return SheetExercise(parse_exercise(TEXT), TEXT, title, **more)


def a_block(seconds: float = 60.0, **more: Any) -> SheetBlock:
    return SheetBlock(**{"exercise": 0, "seconds": seconds, "tempo": TEMPO, "repetitions": 4, **more})


def a_sheet(*exercises: SheetExercise, **more: Any) -> LessonSheet:
    """Give a sheet of two days with one block each, unless others are said."""
    days = tuple(SheetDay(f"Day {number}", (a_block(),)) for number in (1, 2))
    return LessonSheet(exercises or (an_exercise(),), **{"days": days, **more})


def data(sheet: LessonSheet, beats: dict[Tempo, BeatNote] | None = None, *, wide: str = "") -> Any:
    """Give the sheet's data, with one drawn line of music an exercise; ``wide`` has a w for each wide one."""
    svg = '<svg xmlns="x" viewBox="0 0 100 40" fill="currentColor"><path d="M0 0h9v9z"/></svg>'
    line = EngravedLine(svg, 100.0, 40.0, (EngravedNote(0, 20.0), EngravedNote(1, 60.0)), 90.0)
    kinds = wide or "n" * len(sheet.exercises)
    return sheet_data(
        sheet, [SheetMusic(EngravedExercise((line,)), each == "w") for each in kinds], beats or {}
    )


def blocks(*every: SheetBlock, **more: Any) -> list[Any]:
    said: list[Any] = data(a_sheet(days=(SheetDay("Mon 30", every),), **more))["weeks"][0][0]["blocks"]
    return said


def test_a_block_says_what_it_is_how_fast_how_often_and_how_long() -> None:
    (said,) = blocks(a_block(150.0, block="focus", goes=3))
    assert said == {
        "name": "Focus",
        "record": False,
        "long": "2½ min",
        "number": "1",
        "title": "Singles",
        "lines": [[{"note": None, "text": "1/8 = 70"}, "3 × 4 times"]],
    }


def test_a_take_to_record_is_marked() -> None:
    (said,) = blocks(a_block(block="record", repetitions=1))
    assert (said["name"], said["record"], said["lines"][0][1]) == ("Record", True, "1 time")


def test_the_tempo_has_its_note_drawn_where_there_is_one() -> None:
    said = data(a_sheet(), {TEMPO: BeatNote("<svg/>", 0.5, 1.0)})
    piece = said["weeks"][0][0]["blocks"][0]["lines"][0][0]
    assert piece["text"] == "= 70"
    assert (piece["note"]["svg"], piece["note"]["words"]) == ("<svg/>", "eighth note")


@pytest.mark.parametrize(
    ("stroke", "unit", "said"),
    [
        # Common practice: taps 3-5 in, halves 6-9 in, fulls to upright; 1 in = 2.54 cm.
        ("tap", "in", ["taps", "3–5 in"]),
        ("half", "cm", ["half strokes", "15–23 cm"]),
        ("full", "in", ["full strokes", "10–12 in"]),
    ],
)
def test_a_stroke_has_its_heights_in_the_unit_asked_for(stroke: Any, unit: Any, said: list[str]) -> None:
    """It stands with the exercise where it is always the same, else with each block."""
    assert blocks(a_block(stroke=stroke), unit=unit)[0]["lines"][1] == said
    assert data(a_sheet(an_exercise(stroke=stroke), unit=unit))["exercises"][0][0]["stroke"] == said


def minutes(text: str) -> float:
    """Read what a block's time is printed as."""
    return float(text.removesuffix(" min").replace("½", ".5"))


@given(st.lists(st.integers(15, 400), min_size=1, max_size=7))
def test_printed_minutes_of_blocks_add_up_to_the_days(seconds: list[int]) -> None:
    """And each is within half a minute of what it takes, the day as near as half minutes allow."""
    day = SheetDay("Mon 30", tuple(a_block(float(each)) for each in seconds))
    column = data(a_sheet(days=(day,)))["weeks"][0][0]
    printed = [minutes(block["long"]) for block in column["blocks"]]
    assert sum(printed) == minutes(column["long"])
    assert all(abs(each - true / 60) <= 0.5 for each, true in zip(printed, seconds, strict=True))
    short = any(each < 30 for each in seconds)  # less than half a minute is printed as half a minute
    assert short or abs(sum(printed) - sum(seconds) / 60) <= 0.25


def test_more_than_a_week_is_laid_out_week_by_week() -> None:
    days = tuple(SheetDay(f"Day {number}", (a_block(),)) for number in range(1, 10))
    assert [len(week) for week in data(a_sheet(days=days))["weeks"]] == [7, 2]


def test_a_day_without_practice_stands_empty() -> None:
    column = data(a_sheet(days=(SheetDay("Wed 2", ()),)))["weeks"][0][0]
    assert column == {"name": "Wed 2", "long": "", "blocks": []}


def test_an_exercise_says_what_it_is_for() -> None:
    (row,) = data(a_sheet(an_exercise(purpose="So that the\nleft hand leads.")))["exercises"]
    assert row[0]["purpose"] == "So that the left hand leads."


def test_narrow_exercises_stand_in_pairs() -> None:
    """The second of a pair may come from behind a wide one, so that no half of a row stands empty."""
    rows = data(a_sheet(*[an_exercise()] * 6), wide="nwnnnw")["exercises"]
    assert [[each["wide"] for each in row] for row in rows] == [[False] * 2, [True], [False] * 2, [True]]
    assert [[each["number"] for each in row] for row in rows] == [["1", "2"], ["3"], ["4", "5"], ["6"]]


def test_letters_are_large_enough_to_read_on_a_stand() -> None:
    """9 pt for a sticking letter, 7 for a grace's (common practice), wide or narrow."""
    exercise = parse_exercise("1/8: lR rL")
    for wide in (False, True):
        svg = engrave(exercise, width=music_px(a_sheet(), wide=wide), spacing="note").lines[0].svg
        sizes = {float(part.split('"')[0]) * PT_PER_PX[wide] for part in svg.split('font-size="')[1:]}
        assert min(sizes) >= 7.0 - 0.01
        assert max(sizes) >= 9.0 - 0.02
        assert min(sizes) / max(sizes) == pytest.approx(LARGE_GRACE_EM_UNITS / LARGE_EM_UNITS, abs=0.01)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_sixteen_notes_fit_across_the_page_and_eight_in_a_column(paper: Any) -> None:
    sheet = a_sheet(paper=paper)
    bar, half = parse_exercise("4/4 1/16: RLRR LRLL RLRR LRLL"), parse_exercise("1/8: RLRR LRLL")
    assert len(engrave(bar, width=music_px(sheet, wide=True), spacing="note").lines) == 1
    assert len(engrave(half, width=music_px(sheet, wide=False), spacing="note").lines) == 1


def test_the_music_is_said_in_words() -> None:
    assert data(a_sheet())["exercises"][0][0]["music"][0]["words"] == "Eighth notes: R L. Repeated."


def test_the_head_says_who_when_and_how_much() -> None:
    day = SheetDay("Day 1", (a_block(1200.0),))
    said = data(a_sheet(days=(day, day), studio="Anselm Road", student="Mira Anselm", on=date(2026, 11, 30)))
    assert (said["studio"], said["student"]) == ("Anselm Road", "Mira Anselm")
    assert said["line"] == ["30 November 2026", "20 min a day", "2 days"]
    assert said["title"] == "This week’s practice – Mira Anselm – 30 November 2026"
    assert said["date"] == [2026, 11, 30]


def test_days_that_differ_are_only_counted_and_days_of_rest_are_not() -> None:
    days = tuple(SheetDay("", each) for each in ((a_block(60.0),), (a_block(90.0),), ()))
    assert data(a_sheet(days=days))["line"] == ["2 days"]


@pytest.mark.parametrize(
    ("practice", "how", "line"),
    [
        (
            Practice(TEMPO, "half", 8, 15, days=5),
            [
                {"note": None, "text": "1/8 = 70"},
                "half strokes",
                "6–9 in",
                "8 times in one go",
                "rest, and again",
                "about 7½ min each",
            ],
            ["15 min a day", "5 days"],
        ),
        (Practice(repetitions=4, days=1), ["4 times in one go"], ["1 day"]),
        (Practice(minutes=1.5), ["about 1 min each"], ["1½ min a day", "5 days"]),
        (Practice(days=0), [], []),
    ],
)
def test_exercises_without_a_plan_share_what_to_do(
    practice: Practice, how: list[Any], line: list[str]
) -> None:
    """Eight times take far less than the minutes: so it is said that they are played again, after a rest."""
    said = data(a_sheet(an_exercise(), an_exercise(), days=(), practice=practice))
    assert (said["how"], said["line"], said["ticks"]) == (how, line, practice.days)


def test_the_caution_is_on_every_sheet() -> None:
    assert data(a_sheet())["caution"] == PRACTICE_CAUTION
    assert data(a_sheet(days=(), practice=Practice()))["caution"] == PRACTICE_CAUTION


def test_the_teachers_words_are_paragraphs_and_the_week_a_story() -> None:
    said = data(a_sheet(words=" Slowly.\n\n\tLoose wrist. \n", story="The left hand catches up."))
    assert said["words"] == ["Slowly.", "Loose wrist."]
    assert said["story"] == "The left hand catches up."


def test_long_names_are_shortened_at_the_foot_only() -> None:
    said = data(a_sheet(student="A" + "n" * 30 + " " + "B" * 30))
    assert len(said["foot"].split(" · ")[0]) == 50
    assert said["student"].endswith("B" * 30)
