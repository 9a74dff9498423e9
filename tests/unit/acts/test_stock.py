"""The stock stands in an order of our own: whose hand begins, then what it asks of the hands."""

from __future__ import annotations

from itertools import pairwise

from evenhand.acts.exercises.books import stock
from evenhand.music.book import Entry
from evenhand.music.exercise import Tempo
from evenhand.music.library.tracks import track
from evenhand.music.rudiments import rudiments
from evenhand.music.writing.difficulty import difficulties


def hands(entry: Entry) -> str:
    return "".join(note.hand or "-" for note in entry.exercise.notes)


def first_double(sticking: str) -> int:
    """Return the first note that the same hand plays again; the length where there is none."""
    again = (i for i, (one, two) in enumerate(pairwise(sticking)) if one == two)
    return next(again, len(sticking))


def test_the_order_follows_the_rule() -> None:
    """Right-led before left-led, easy to hard, the later first double first, R before L: at any tempo."""
    entries = stock().entries
    for tempo in (Tempo.parse("1/4=60"), Tempo.parse("1/4=140")):
        loads = [round(each.load, 6) for each in difficulties([each.exercise for each in entries], tempo)]
        rule = [
            (
                hands(entry)[0] == "L",
                load,
                -first_double(hands(entry)),
                [hand == "L" for hand in hands(entry)],
            )
            for entry, load in zip(entries, loads, strict=True)
        ]
        assert rule == sorted(rule)


def test_forms_that_the_left_hand_begins_stand_apart() -> None:
    sections = {entry.section: "" for entry in stock().entries}
    for entry in stock().entries:
        sections[entry.section] += hands(entry)[0]
    assert {name: set(firsts) for name, firsts in sections.items()} == {
        "Right hand first": {"R"},
        "Left hand first": {"L"},
    }


def test_a_paradiddle_is_called_as_in_the_library_and_among_the_rudiments() -> None:
    """RLRR LRLL has one name: in the stock, in the library, and as rudiment number 16."""
    called = {
        "".join(note.hand or "-" for note in each.exercise.notes): each.title
        for each in reversed(track("paradiddles"))
        if not each.exercise.has_accents
    }
    mine = {hands(entry): entry.title for entry in stock().entries if "paradiddle" in entry.title.lower()}
    assert mine == {each: called[each] for each in mine}
    assert len(mine) == 4
    assert mine["RLRRLRLL"] == rudiments()[15].name == "Single paradiddle"
