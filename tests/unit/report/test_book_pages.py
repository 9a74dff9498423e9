"""The data of a printed book: sections, numbers, contents."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.music.book import parse_book
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.text import parse_exercise
from evenhand.report.print.book_pages import LAYOUTS, book_data, left_handed, music_px, page_starts

LINE = EngravedLine('<svg viewBox="0 0 90 40"><path/></svg>', 90.0, 40.0, (EngravedNote(0, 9.0),), 80.0)


def data(text: str, **more: Any) -> Any:
    book = parse_book(text)
    return book_data(book, [EngravedExercise((LINE,))] * len(book.entries), **more)


def test_exercises_stand_in_their_sections_and_are_numbered_through() -> None:
    parts = data("# One\n1/8: RL # a\n1/8: LR # b\n# Two\n1/8: RR # c")["parts"]
    told = [(part["section"], [(e["number"], e["title"]) for e in part["exercises"]]) for part in parts]
    assert told == [("One", [(1, "a"), (2, "b")]), ("Two", [(3, "c")])]


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


@pytest.mark.parametrize("paper", ["a4", "letter", "pocket"])
def test_sixteen_notes_behind_a_meter_fit_in_a_column(paper: Any) -> None:
    """The engraver wants 34 px a note, and 74 px for clef and meter ahead of the first."""
    assert music_px(paper) >= 16 * 34 + 74


def test_a_text_opens_the_book_and_each_section_once() -> None:
    told = data(
        "# My book\n#: To begin.\n# One\n#: First.\n#: Then.\n1/8: RL\n# Two\n1/8: LR\n# One\n1/8: RR"
    )
    assert told["opening"] == [[["To begin.", 0]]]
    assert [part["opening"] for part in told["parts"]] == [[[["First.", 0]], [["Then.", 0]]], [], []]


def test_an_opening_text_names_an_exercise_with_its_number() -> None:
    told = data("# One\n#: Compare with [Two each] and [none].\n1/8: RL # One each\n1/8: RRLL # Two each")
    assert told["parts"][0]["opening"] == [
        [["Compare with ", 0], ["Two each", 2], [" and ", 0], ["[none]", 0], [".", 0]]
    ]


def test_an_exercise_that_was_there_in_another_form_says_which() -> None:
    parts = data("1/8: RLRR LRLL\n1/8: RRLL\n1/8: RRLR LLRL\n1/8: LLRR")["parts"]
    likes = [each["like"] for each in parts[0]["exercises"]]
    assert likes == [None, None, [1, "begun 2 notes later"], [2, "the hands swapped"]]


def test_the_left_handed_edition_swaps_hands_in_music_and_words() -> None:
    book = parse_book("# Right hand first\n#: The right leads.\n1/8: lRLR  # Left flams, upright")
    assert left_handed(book) == parse_book(
        "# Left hand first\n#: The left leads.\n1/8: rLRL  # Right flams, upright"
    )
    assert left_handed(left_handed(book)) == book


def test_signs_are_explained_where_the_book_has_them() -> None:
    assert len(data("1/8: RL")["signs"]) == 1
    assert [each.split(":")[0] for each in data("1/8: >lRL(R)B R~")["signs"]][1:] == [
        "both letters",
        "a small letter",
        "> an accent",
        "brackets",
        "z",
    ]


@pytest.mark.parametrize("paper", LAYOUTS)
def test_letters_of_a_book_can_be_read_on_a_music_stand(paper: Any) -> None:
    """At least 9 pt, grace letters 7, as the sheet's (our own rule, looked at on paper)."""
    svg = engrave(parse_exercise("1/8: lRL"), width=music_px(paper), spacing="note").lines[0].svg
    sizes = {float(size) * LAYOUTS[paper].scale for size in re.findall(r'font-size="([0-9.]+)"', svg)}
    assert min(sizes) >= 7
    assert max(sizes) >= 9


@given(st.lists(st.floats(1, 120), min_size=1, max_size=9), st.floats(50, 200))
def test_pages_are_as_few_as_can_be_and_none_is_too_full(heights: list[float], room: float) -> None:
    """Against all ways to break so few exercises."""
    first = room * 0.8

    def pages_of(starts: tuple[int, ...]) -> list[list[float]]:
        cuts = [0, *starts, len(heights)]
        return [heights[a:b] for a, b in pairwise(cuts)]

    def fits(starts: tuple[int, ...]) -> bool:
        rooms = [first, *[room] * len(starts)]
        return all(
            len(page) == 1 or sum(page) <= has for page, has in zip(pages_of(starts), rooms, strict=True)
        )

    ways = (way for many in range(len(heights)) for way in combinations(range(1, len(heights)), many))
    fewest = min(len(way) for way in ways if fits(way))
    found = tuple(sorted(page_starts(heights, first, room)))
    assert len(found) == fewest
    assert fits(found)
