"""Families of common practice: built by rule, checked against letters written by hand."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest

from evenhand.music.equivalence import canonical, same_groups
from evenhand.music.rudiments import families, goes_to_the_other_hand, roll, rudiments
from evenhand.music.text import parse_exercise, print_exercise

TEXT_OF = {entry.title: print_exercise(entry.exercise) for entry in families().entries}
IN_SECTION = Counter(entry.section for entry in families().entries)


def section(name: str) -> list[str]:
    return [print_exercise(entry.exercise) for entry in families().entries if entry.section == name]


@pytest.mark.parametrize(
    ("title", "text"),
    [  # by hand
        ("Single paradiddle", "1/16: RLRR LRLL"),
        ("Single paradiddle from its 2nd note", "1/16: RLLR LRRL"),
        ("Single paradiddle from its 3rd note", "1/16: RRLR LLRL"),
        ("Single paradiddle from its 4th note", "1/16: RLRL LRLR"),
        ("Double paradiddle", "1/24: RLR LRR LRL RLL"),
        ("Triple paradiddle", "1/16: RLRL RLRR LRLR LRLL"),
        ("Paradiddle-diddle, left hand first", "1/24: LRL LRR"),
        ("Flam on the 2nd of four, right hand first", "1/16: R rLRL"),
        ("Flam on the 3rd of three", "1/12: RL lRLR rL"),
        ("Drag on the 4th of four, left hand first", "1/16: LRL llR"),
        ("Accent on the 3rd of four, right hand first", "1/16: RL>RL"),
        ("Accents on the 1st and 4th of four, right hand first", "1/16: >RLR>L"),
        ("Accents on the 1st and 3rd of three", "1/12: >RL>R >LR>L"),
        ("One accent moved through the bar, right hand first", "1/16: >RLRL R>LRL RL>RL RLR>L"),
        ("Accent on the 2nd of each paradiddle", "1/16: R>LRR L>RLL"),
        ("Doubles, the second accented, left hand first", "1/16: L>LR>R L>LR>R"),
        ("RRL from hand to hand", "1/12: RRL LLR"),
        ("Eight with each hand", "1/8: RRRR RRRR LLLL LLLL"),
        ("Roll of 8, right hand first", "1/32: RRLL RR 1/16: >L 1/4: >R"),
    ],
)
def test_letters_by_hand(title: str, text: str) -> None:
    assert TEXT_OF[title] == text


def test_each_title_and_each_text_stands_once() -> None:
    assert len(TEXT_OF) == len(families().entries)
    assert same_groups(families().entries, rotation=False, swap=False) == ()


def test_every_inversion_of_a_paradiddle_is_the_paradiddle_begun_elsewhere() -> None:
    for name, inversions in (
        ("Single paradiddle", 4),
        ("Double paradiddle", 6),
        ("Triple paradiddle", 8),
        ("Paradiddle-diddle", 12),  # six, led by either hand
    ):
        keys = [canonical(parse_exercise(text)) for title, text in TEXT_OF.items() if title.startswith(name)]
        assert len(keys) == inversions
        assert len(set(keys)) == 1


@pytest.mark.parametrize("count", range(5, 18))
def test_a_roll_has_as_many_strokes_as_it_says(count: int) -> None:
    exercise = parse_exercise(roll(count))
    assert len(exercise.notes) == count
    accented = [note.accent for note in exercise.notes]
    assert accented == [False] * (count - 2 + count % 2) + [True] * (2 - count % 2)
    assert exercise.length.numerator == 1
    assert all(one.hand != two.hand for one, two in pairwise(exercise.notes[::2]) if not two.accent)


def test_rolls_of_the_family_are_those_of_the_forty() -> None:
    """Two tables, one typed and one built, agree; six of the forty is another figure, led by a single."""
    of_the_forty = {each.text for each in rudiments() if "stroke roll" in each.name and each.number >= 7}
    assert of_the_forty - set(section("Rolls of 5 to 17 strokes")) == {"1/16: >R 1/32: LLRR 1/16: >L"}


def test_what_does_not_go_to_the_other_hand_is_there_for_both() -> None:
    for title, text in TEXT_OF.items():
        if title.endswith("right hand first"):
            twin = parse_exercise(TEXT_OF[title.replace("right", "left")])
            assert not goes_to_the_other_hand(parse_exercise(text))
            assert canonical(twin, rotation=False) == canonical(parse_exercise(text), rotation=False)
            assert (parse_exercise(text).notes[0].hand, twin.notes[0].hand) == ("R", "L")
        elif not title.endswith("left hand first"):
            assert goes_to_the_other_hand(parse_exercise(text))


def test_how_many_accents_and_ornaments_there_are_to_move() -> None:
    """By hand: of four 4 + 6 + 4, led by either hand; of three 3 + 3; two bars, led by either hand."""
    assert IN_SECTION["Accents moved through a group"] == 2 * 14 + 6 + 4
    assert IN_SECTION["Flams in each place of a group"] == 2 * 4 + 3 + 1
    assert IN_SECTION["Drags in each place of a group"] == 2 * 4 + 3 + 1
    assert len(set(section("Accents moved through a group"))) == 38
