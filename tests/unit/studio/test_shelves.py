"""The book and the library to browse: what is on which shelf, what is found, in which order."""

from __future__ import annotations

from collections import Counter

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.library.tracks import library
from evenhand.music.text import parse_exercise
from evenhand.music.writing.difficulty import difficulties
from evenhand.studio.desk import Cache
from evenhand.studio.shelves import (
    A_PAGE,
    BY_HAND,
    TRAINS,
    ShelfQuery,
    browse,
    drawn,
    facts_of,
    prepare,
    third_of,
)
from evenhand.studio.values import BookEntry

OWN = (
    BookEntry("a", "1/8: RRLL", "Doubles", "Second", 0),
    BookEntry("b", "1/8: RLRL", "Singles", "First", 1),
    BookEntry("c", "1/16: LRLL RLRR", "Paradiddle", "Second", 2),
)


def texts(query: ShelfQuery) -> list[str]:
    return [each.text for each in browse(query, OWN).exercises]


def test_the_own_shelf_stands_as_the_teacher_put_it_by_sections() -> None:
    assert [each.id for each in browse(ShelfQuery(), OWN).exercises] == ["a", "c", "b"]


def test_all_shelves_together_hold_each_exercise_once_on_some_page() -> None:
    pages = [browse(ShelfQuery("", page=number), OWN) for number in range(1, 17)]
    assert pages[0].count == len(library()) + len(OWN)
    assert pages[0].pages == len(pages) == -(-pages[0].count // A_PAGE)
    assert sum(len(each.exercises) for each in pages) == pages[0].count
    assert browse(ShelfQuery("", page=99), OWN).page == 16


def test_a_sticking_s_nearest_exercises_come_first() -> None:
    found = browse(ShelfQuery("", sticking="LRLL RLRR", swap=True), OWN)
    places = [each.found for each in found.exercises if each.found]
    assert len(places) == A_PAGE < found.count
    assert (places[0].lies, places[0].hands_swapped) == ("whole", False)
    order = [("whole", "turned", "begins", "inside", "around").index(each.lies) for each in places]
    kinds = [(each.rests_between, each.hands_swapped, at) for each, at in zip(places, order, strict=True)]
    assert kinds == sorted(kinds)


@pytest.mark.parametrize(
    ("asked", "has"),
    [
        ({"hand": "L leads"}, ["1/8: LRLL"]),
        ({"hand": "R alone"}, ["1/8: R-R-"]),
        ({"hand": "works L"}, ["1/8: LRLL", "1/8: LRLR"]),  # it leads
        ({"hand": "in turn"}, ["1/8: RRLL"]),
        ({"trains": "doubles"}, ["1/8: RRLL", "1/12: RLR"]),  # RLR around its repeat
        ({"trains": "flams"}, ["1/8: lRL"]),
        ({"trains": "heights"}, ["1/8: >RRLL >RRLL"]),
        ({"trains": "triplets"}, ["1/12: RLR"]),
        ({"trains": "rests"}, ["1/8: R-R-"]),
    ],
)
def test_exercises_are_found_by_what_is_written(asked: dict[str, str], has: list[str]) -> None:
    """By hand: which of the seven have what is asked for."""
    few = ["1/8: LRLL", "1/8: R-R-", "1/8: RRLL", "1/8: lRL", "1/12: RLR", "1/8: >RRLL >RRLL", "1/8: LRLR"]
    entries = [BookEntry(str(at), text) for at, text in enumerate(few)]
    found = [each.text for each in browse(ShelfQuery(**asked), entries).exercises]  # type: ignore[arg-type]
    assert set(has) <= set(found) < set(few)
    assert set(BY_HAND) | set(TRAINS) >= set(asked.values())


def test_one_that_cannot_be_read_stands_there_and_is_found_by_nothing() -> None:
    entries = (*OWN, BookEntry("d", "of another form", "Old", "First", 3))
    assert [each.id for each in browse(ShelfQuery(), entries).exercises][-1] == "d"
    assert (drawn("of another form"), third_of("of another form")) == ((), "")
    assert "d" not in [each.id for each in browse(ShelfQuery(sort="easy"), entries).exercises]
    prepare(entries)


def test_the_thirds_are_thirds_of_the_library() -> None:
    thirds = Counter(third_of(text) for text in (e.text for e in browse_all()))
    assert max(thirds.values()) - min(thirds.values()) < len(library()) / 20


def browse_all() -> list[BookEntry]:
    pages = range(1, browse(ShelfQuery(""), ()).pages + 1)
    return [BookEntry("", e.text) for page in pages for e in browse(ShelfQuery("", page=page), ()).exercises]


def test_easy_to_hard_is_by_load_and_says_why() -> None:
    first, second = (browse(ShelfQuery("", sort="easy", page=page), OWN).exercises for page in (1, 2))
    both = [parse_exercise(each.text) for each in (*first, *second)]
    loads = [round(each.load, 6) for each in difficulties(both, Tempo.parse("1/4=60"))]
    assert loads == sorted(loads)
    assert first[0].why.startswith("the easiest")
    assert "the one before" in second[0].why


def test_all_that_is_asked_for_is_told_though_fewer_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """While one search weighs exercises, another may push out of memory what this one had found there."""
    monkeypatch.setattr("evenhand.studio.shelves._FACTS", Cache(1))
    facts_of([OWN[0].text])
    asked = [entry.text for entry in OWN]
    assert [facts.exercise for facts in facts_of(asked)] == [parse_exercise(text) for text in asked]
