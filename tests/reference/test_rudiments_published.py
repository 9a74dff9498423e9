"""The forty rudiments against the list as it is remembered.

Sources, with their standing:
- forty in number, numbered from 1, with these names and families, "Lesson 25" as number 34: from memory;
- the strokes of the single flammed mill (R R L R, L L R L) and its alternating by itself: from memory.
They are written down here apart from the table: they check that it says what was meant, and no more.
Letters, accents and rhythms beyond these are not claimed here.
"""

from __future__ import annotations

import pytest

from evenhand.music.rudiments import RudimentFamily, rudiments
from evenhand.music.text import parse_exercise

ROLLS = """Single stroke roll; Single stroke four; Single stroke seven; Multiple bounce roll;
Triple stroke roll; Double stroke open roll; Five stroke roll; Six stroke roll; Seven stroke roll;
Nine stroke roll; Ten stroke roll; Eleven stroke roll; Thirteen stroke roll; Fifteen stroke roll;
Seventeen stroke roll"""
DIDDLES = "Single paradiddle; Double paradiddle; Triple paradiddle; Single paradiddle-diddle"
FLAMS = """Flam; Flam accent; Flam tap; Flamacue; Flam paradiddle; Single flammed mill;
Flam paradiddle-diddle; Pataflafla; Swiss army triplet; Inverted flam tap; Flam drag"""
DRAGS = """Drag; Single drag tap; Double drag tap; Lesson 25; Single dragadiddle; Drag paradiddle #1;
Drag paradiddle #2; Single ratamacue; Double ratamacue; Triple ratamacue"""


def names(listed: str) -> list[str]:
    return [" ".join(name.split()) for name in listed.split(";")]


def test_there_are_forty_numbered_from_one() -> None:
    assert [each.number for each in rudiments()] == list(range(1, 41))
    assert len({each.name for each in rudiments()}) == 40


@pytest.mark.parametrize(
    ("family", "first", "listed"),
    [("roll", 1, ROLLS), ("diddle", 16, DIDDLES), ("flam", 20, FLAMS), ("drag", 31, DRAGS)],
)
def test_names_and_numbers_of_each_family(family: RudimentFamily, first: int, listed: str) -> None:
    found = [(each.number, each.name) for each in rudiments() if each.family == family]
    assert found == list(enumerate(names(listed), start=first))


def test_lesson_25_is_number_34_the_fourth_of_the_drags() -> None:
    drags = [each for each in rudiments() if each.family == "drag"]
    assert (drags[3].name, drags[3].number) == ("Lesson 25", 34)


def test_the_single_flammed_mill_is_a_paradiddle_turned_round_with_a_flam_on_each_beginning() -> None:
    mill = parse_exercise(rudiments()[24].text)
    assert [note.hand for note in mill.notes] == list("RRLRLLRL")
    assert [bool(note.graces) for note in mill.notes] == [True, False, False, False] * 2
