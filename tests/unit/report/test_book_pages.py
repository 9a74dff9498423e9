"""The data of a printed book: sections, numbers, contents."""

from __future__ import annotations

from typing import Any

import pytest

from evenhand.music.book import parse_book
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.report.print.setting import book_data, music_px

LINE = EngravedLine('<svg viewBox="0 0 90 40"><path/></svg>', 90.0, 40.0, (EngravedNote(0, 9.0),), 80.0)


def data(text: str, **more: Any) -> Any:
    book = parse_book(text)
    return book_data(book, [EngravedExercise((LINE,))] * len(book.entries), **more)


def test_exercises_stand_in_their_sections_and_are_numbered_through() -> None:
    parts = data("# One\n1/8: RL # a\n1/8: LR # b\n# Two\n1/8: RR # c")["parts"]
    told = [(part["section"], [(e["number"], e["title"]) for e in part["exercises"]]) for part in parts]
    assert told == [("One", [("1", "a"), ("2", "b")]), ("Two", [("3", "c")])]


def test_headings_leave_no_level_out() -> None:
    """The title is of level 1: what stands in no section is of level 2, in a section of level 3."""
    parts = data("1/8: RL # a\n# One\n1/8: LR # b")["parts"]
    assert [part["exercises"][0]["level"] for part in parts] == [2, 3]


@pytest.mark.parametrize(
    ("text", "depth"),
    [
        ("1/8: RL", 0),
        ("1/8: RL # a", 2),
        ("# One\n1/8: RL", 2),
        ("# One\n1/8: RL # a", 3),
        ("# One\n" + "1/8: RL # a\n" * 201, 2),
    ],
)
def test_contents_go_as_deep_as_there_is_something_to_say(text: str, depth: int) -> None:
    assert data(text)["depth"] == depth


def test_a_few_exercises_follow_their_contents_on_the_same_page() -> None:
    assert not data("1/8: RL # a\n" * 10)["opens"]
    assert data("1/8: RL # a\n" * 11)["opens"]


def test_the_title_is_the_one_asked_for_else_the_books_else_a_plain_one() -> None:
    text = "# My book\n# One\n1/8: RL"
    assert data(text, title="Autumn")["heading"] == "Autumn"
    assert data(text)["heading"] == "My book"
    assert data("1/8: RL")["heading"] == "Exercises"


def test_one_exercise_is_one() -> None:
    assert data("1/8: RL")["count"] == "1 exercise"
    assert data("1/8: RL\n1/8: LR")["count"] == "2 exercises"


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_sixteen_notes_behind_a_meter_fit_in_a_column(paper: Any) -> None:
    """The engraver wants 34 px a note, and 74 px for clef and meter ahead of the first."""
    assert music_px(paper) >= 16 * 34 + 74
