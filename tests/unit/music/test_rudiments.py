"""The forty rudiments against tables written by hand, in letters as they are typed.

The letters are from memory (see docs/book.md): they check that the table says what was meant,
not that what was meant is the trade's.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.acts.exercises.rudiments import as_book, list_rudiments
from evenhand.music.exercise import Exercise
from evenhand.music.rudiments import Rudiment, rudiments
from evenhand.music.text import mirrored, parse_exercise, print_exercise

BY_NUMBER = {each.number: each for each in rudiments()}

# Without note values: small letters are graces, an accent follows its note.
TYPED = {
    1: "R L R L R L R L",
    2: "R L R L",
    3: "R L R L R L R L R L R L R L",
    4: "R L R L",
    5: "R R R L L L",
    6: "R R L L R R L L",
    7: "R R L L R' L L R R L'",
    8: "R' L L R R L'",
    9: "R R L L R R L'",
    10: "R R L L R R L L R' L L R R L L R R L'",
    11: "R R L L R R L L R' L'",
    12: "R R L L R R L L R R L'",
    13: "R R L L R R L L R R L L R' L L R R L L R R L L R R L'",
    14: "R R L L R R L L R R L L R R L'",
    15: "R R L L R R L L R R L L R R L L R' L L R R L L R R L L R R L L R R L'",
    16: "R' L R R L' R L L",
    17: "R' L R L R R L' R L R L L",
    18: "R' L R L R L R R L' R L R L R L L",
    19: "R' L R R L L",
    20: "lR rL",
    21: "lR' L R rL' R L",
    22: "lR' R rL' L",
    23: "lR L' R L lR rL R' L R rL",
    24: "lR' L R R rL' R L L",
    25: "lR' R L R rL' L R L",
    26: "lR' L R R L L rL' R L L R R",
    27: "lR' L R rL'",
    28: "lR' R L",
    29: "lR' L rL' R",
    30: "lR' L L R rL' R R L",
    31: "llR rrL",
    32: "llR L' rrL R'",
    33: "llR llR L' rrL rrL R'",
    34: "llR L R'",
    35: "R' R L R R L' L R L L",
    36: "R' llR L R R L' rrL R L L",
    37: "R' llR llR L R R L' rrL rrL R L L",
    38: "llR L R L' rrL R L R'",
    39: "llR llR L R L' rrL rrL R L R'",
    40: "llR llR llR L R L' rrL rrL rrL R L R'",
}

# Those whose repeat leads with the same hand: one figure says all. The others say both halves.
SAME_HAND_AGAIN = {1, 2, 4, 6, 8, 9, 11, 12, 14, 19, 27, 28, 34}

STROKES_OF_ROLLS = {7: 5, 8: 6, 9: 7, 10: 9, 11: 10, 12: 11, 13: 13, 14: 15, 15: 17}

# One figure's length (half of those that say both), in sixteenths: from the note values that were chosen.
SIXTEENTHS_OF_A_FIGURE = {
    1: 8,
    2: 4,
    3: 8,
    4: 8,
    5: 2,
    6: 4,
    7: 4,
    8: 4,
    9: 4,
    10: 8,
    11: 8,
    12: 8,
    13: 8,
    14: 8,
    15: 16,
    16: 4,
    17: 4,
    18: 8,
    19: 4,
    20: 2,
    21: 4,
    22: 2,
    23: 8,
    24: 4,
    25: 4,
    26: 4,
    27: 4,
    28: 4,
    29: 2,
    30: 4,
    31: 2,
    32: 4,
    33: 6,
    34: 4,
    35: 4,
    36: 6,
    37: 8,
    38: 4,
    39: 6,
    40: 8,
}


def exercise_of(number: int) -> Exercise:
    return parse_exercise(BY_NUMBER[number].text)


def typed(exercise: Exercise) -> str:
    words = []
    for note in exercise.notes:
        graces = "".join(note.graces).lower()
        words.append(f"{graces}{note.hand}{chr(39) if note.accent else ''}")
    return " ".join(words)


def figures_in(number: int) -> int:
    return 1 if number in SAME_HAND_AGAIN or number == 5 else 2


@pytest.mark.parametrize("number", range(1, 41))
def test_letters_graces_and_accents_are_those_typed_by_hand(number: int) -> None:
    assert typed(exercise_of(number)) == TYPED[number]


@pytest.mark.parametrize("each", rudiments(), ids=lambda each: str(each.number))
def test_each_text_is_printed_as_it_stands(each: Rudiment) -> None:
    assert print_exercise(parse_exercise(each.text)) == each.text


@pytest.mark.parametrize("number", sorted(set(range(1, 41)) - SAME_HAND_AGAIN))
def test_where_it_goes_to_the_other_hand_the_second_half_is_the_first_with_hands_swapped(number: int) -> None:
    exercise = exercise_of(number)
    half = len(exercise.notes) // 2
    assert len(exercise.notes) == 2 * half
    assert mirrored(exercise).notes[:half] == exercise.notes[half:]


@pytest.mark.parametrize("number", sorted(SAME_HAND_AGAIN))
def test_the_others_lead_with_the_right_hand_and_are_not_two_halves_swapped(number: int) -> None:
    exercise = exercise_of(number)
    half = len(exercise.notes) // 2
    assert exercise.notes[0].hand == "R"
    assert mirrored(exercise).notes[:half] != exercise.notes[half:]


@pytest.mark.parametrize(("number", "strokes"), STROKES_OF_ROLLS.items())
def test_a_roll_has_as_many_strokes_as_its_name_says_and_its_doubles_are_thirty_seconds(
    number: int, strokes: int
) -> None:
    notes = exercise_of(number).notes
    assert len(notes) == strokes * figures_in(number)
    figure = notes[:strokes]
    doubled = [note for note in figure if note.value == Fraction(1, 32)]
    assert not any(note.accent for note in doubled)
    assert all(one.hand == two.hand for one, two in zip(doubled[::2], doubled[1::2], strict=True))
    assert all(note.accent for note in figure if note not in doubled)


def test_a_roll_of_an_odd_number_goes_to_the_other_hand_where_its_doubles_are_even_in_number() -> None:
    """By hand: after an even number of doubles the last stroke is by the leading hand."""
    odd = {number: strokes for number, strokes in STROKES_OF_ROLLS.items() if strokes % 2}
    goes = {number for number, strokes in odd.items() if (strokes - 1) // 2 % 2 == 0}
    assert goes == set(odd) - SAME_HAND_AGAIN


@pytest.mark.parametrize("number", range(1, 41))
def test_a_figure_is_as_long_as_was_chosen(number: int) -> None:
    figures = 1 if number in SAME_HAND_AGAIN else 2
    assert exercise_of(number).length * 16 == SIXTEENTHS_OF_A_FIGURE[number] * figures


def test_flams_stand_in_the_flam_family_and_nowhere_else() -> None:
    for number in range(1, 41):
        counts = {len(note.graces) for note in exercise_of(number).notes}
        assert (1 in counts) == (20 <= number <= 30)


def test_drags_stand_in_the_drag_family_and_one_of_them_is_a_measured_double() -> None:
    for number in range(1, 41):
        counts = {len(note.graces) for note in exercise_of(number).notes}
        assert (2 in counts) == (number >= 31 and number != 35)


def test_graces_are_by_the_other_hand() -> None:
    for number in range(1, 41):
        for note in exercise_of(number).notes:
            assert note.hand not in note.graces


@pytest.mark.parametrize(("number", "singles"), [(16, 2), (17, 4), (18, 6)])
def test_a_paradiddle_is_singles_and_one_double(number: int, singles: int) -> None:
    half = [note.hand for note in exercise_of(number).notes[: singles + 2]]
    assert half == ["R", "L"] * (singles // 2) + ["R", "R"]


@pytest.mark.parametrize(("number", "drags"), [(38, 1), (39, 2), (40, 3)])
def test_a_ratamacue_has_its_drags_and_ends_on_an_accent(number: int, drags: int) -> None:
    notes = exercise_of(number).notes[: drags + 3]
    assert [len(note.graces) for note in notes] == [2] * drags + [0] * 3
    assert [note.accent for note in notes] == [False] * (drags + 2) + [True]


def test_only_the_multiple_bounce_roll_is_buzzed() -> None:
    buzzed = [number for number in BY_NUMBER if any(note.buzz for note in exercise_of(number).notes)]
    assert buzzed == [4]
    assert all(note.buzz for note in exercise_of(4).notes)


def test_the_book_has_a_section_for_each_family() -> None:
    book = as_book(list_rudiments())
    assert [entry.title for entry in book.entries] == [each.name for each in rudiments()]
    sections = list(dict.fromkeys(entry.section for entry in book.entries))
    assert sections == ["Roll rudiments", "Diddle rudiments", "Flam rudiments", "Drag rudiments"]
    assert len(list_rudiments(family="flam")) == 11
