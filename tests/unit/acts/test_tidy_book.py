"""A shelf of books is tidied: the same are found and dropped, sections gathered and sorted."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.acts.exercises.books import Placed, Shelf, SortedBy, UpTo, book_json, tidy
from evenhand.music.book import parse_numbered

BOOK = """\
# Paradiddles
1/16: RLRR LRLL  # Paradiddle 10
1/16: RRLR LLRL  # Paradiddle 9
# Singles
1/8: LR
1/12: RLR LRL  # a
# Paradiddles
1/16: LRLL RLRR  # paradiddle 2
1/8: RL
"""


@pytest.fixture
def shelf() -> Shelf:
    numbered = parse_numbered(BOOK)
    lines = zip(numbered.book.entries, numbered.lines, strict=True)
    return Shelf(tuple(Placed(entry, Path("b.txt"), line) for entry, line in lines))


def lines(shelf: Shelf) -> list[int]:
    return [placed.line for placed in shelf.placed]


@pytest.mark.parametrize(
    ("up_to", "groups"),
    [  # by hand, as lines of the book
        ("none", []),
        ("rotation", [[2, 3, 8], [5, 9]]),
        ("swap", [[2, 8], [5, 9]]),
        ("rotation-swap", [[2, 3, 8], [5, 9]]),
    ],
)
def test_what_is_the_same(shelf: Shelf, up_to: UpTo, groups: list[list[int]]) -> None:
    found = tidy(shelf, up_to=up_to).same
    assert [[same.first.line, *(other.line for other, _ in same.others)] for same in found] == groups


def test_it_is_said_how_the_others_are_got_from_the_first(shelf: Shelf) -> None:
    turns = [turn for _, turn in tidy(shelf).same[0].others]
    assert [(turn.notes_later, turn.hands_swapped) for turn in turns] == [(2, False), (0, True)]


def test_only_the_first_of_the_same_are_kept(shelf: Shelf) -> None:
    tidied = tidy(shelf, without_same=True)
    assert lines(tidied.shelf) == [2, 5, 6]
    assert tidied.dropped == 3
    assert len(tidied.same) == 2
    assert lines(tidy(shelf, without_same=True, up_to="none").shelf) == lines(shelf)


@pytest.mark.parametrize(
    ("sorted_by", "order"),
    [  # by hand: paradiddles first, for they stand first
        (None, [2, 3, 5, 6, 8, 9]),
        ("section", [2, 3, 8, 9, 5, 6]),
        ("title", [9, 8, 3, 2, 5, 6]),  # no title, 2, 9, 10
        ("notes", [9, 2, 3, 8, 5, 6]),  # 2 notes, 8, 8, 8
    ],
)
def test_sections_are_gathered_and_sorted_inside(
    shelf: Shelf, sorted_by: SortedBy | None, order: list[int]
) -> None:
    assert lines(tidy(shelf, sorted_by=sorted_by).shelf) == order


def test_json_says_what_is_kept_and_what_was_the_same(shelf: Shelf) -> None:
    """The shape is docs/book.md's."""
    written = json.loads(book_json(tidy(shelf, without_same=True)))
    assert written["count"] == 3
    assert written["dropped"] == 3
    assert written["exercises"][0] == {
        "exercise": "1/16: RLRR LRLL",
        "title": "Paradiddle 10",
        "section": "Paradiddles",
        "file": "b.txt",
        "line": 2,
    }
    assert written["same"][1] == {
        "exercise": "1/8: LR",
        "title": "",
        "section": "Singles",
        "file": "b.txt",
        "line": 5,
        "others": [
            {
                "exercise": "1/8: RL",
                "title": "",
                "section": "Paradiddles",
                "file": "b.txt",
                "line": 9,
                "notes_later": 0,
                "hands_swapped": True,
            }
        ],
    }
