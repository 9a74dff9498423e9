"""Exercise text: what is read, what is printed, and what an error says."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from evenhand.errors import BadExercise, WrongUse
from evenhand.music.exercise import MAX_NOTES, Exercise, Meter, Note
from evenhand.music.text import MAX_TEXT, mirrored, parse_exercise, print_exercise

EIGHTH, SIXTEENTH = Fraction(1, 8), Fraction(1, 16)


def hands_of(exercise: Exercise) -> str:
    return "".join(note.hand or "-" for note in exercise.notes)


def test_capitals_are_notes_and_the_value_holds() -> None:
    exercise = parse_exercise("1/8: RLRR LRLL")
    assert hands_of(exercise) == "RLRRLRLL"
    assert {note.value for note in exercise.notes} == {EIGHTH}
    assert exercise.length == 1
    assert exercise.meter is None


def test_everything_a_note_can_carry() -> None:
    exercise = parse_exercise("4/4 1/8: >R lR llR >rL R~ - 1/16: >lR~")
    assert exercise.meter == Meter(4, 4)
    assert exercise.notes == (
        Note("R", EIGHTH, accent=True),
        Note("R", EIGHTH, graces=("L",)),
        Note("R", EIGHTH, graces=("L", "L")),
        Note("L", EIGHTH, accent=True, graces=("R",)),
        Note("R", EIGHTH, buzz=True),
        Note(None, EIGHTH),
        Note("R", SIXTEENTH, accent=True, graces=("L",), buzz=True),
    )


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("1/12: RLR", [Fraction(1, 12)] * 3),  # eighth triplets: three fill a quarter (common practice)
        ("1/24: RLRLRL", [Fraction(1, 24)] * 6),  # sixteenth triplets: six fill a quarter
        ("3/16: R 1/16: L", [Fraction(3, 16), SIXTEENTH]),  # dotted eighth and sixteenth
        ("1/20: RLRLR", [Fraction(1, 20)] * 5),
        ("1/1: R 2/1: L 1/128: R 1/192: L", [Fraction(1), Fraction(2), Fraction(1, 128), Fraction(1, 192)]),
    ],
)
def test_values(text: str, values: list[Fraction]) -> None:
    assert [note.value for note in parse_exercise(text).notes] == values


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("1/8: RLRR LRLL", "1/8: RLRR LRLL"),
        ("1/16: >RLRR >LRLL", "1/16: >RLRR >LRLL"),
        ("1/8: lR rL lR rL", "1/8: lR rL lR rL"),
        ("1/8:RLRRLRLL", "1/8: RLRR LRLL"),
        ("4/4 1/8 : RL RR LR LL|RLRRLRLL |", "4/4 1/8: RLRR LRLL | RLRR LRLL |"),
        ("| 1/8: R L", "1/8: RL"),
        ("1/8: l>R", "1/8: >lR"),
        ("1/8: ll>R~", "1/8: >llR~"),
        ("1/12: RLRLRL", "1/12: RLR LRL"),
        ("1/20: RLRLRL", "1/20: RLRLR L"),
        ("1/28: RLRLRLRL", "1/28: RLRLRLR L"),
        ("6/8 1/8: RLRLRL", "6/8 1/8: RLR LRL"),
        ("1/8: RL 1/16: RL 1/16: RL", "1/8: RL 1/16: RLRL"),
        ("1/8: RL | 1/16: RL RL", "1/8: RL | 1/16: RLRL"),
    ],
)
def test_one_exercise_is_printed_one_way(text: str, printed: str) -> None:
    assert print_exercise(parse_exercise(text)) == printed
    assert parse_exercise(printed) == parse_exercise(text)


def test_bar_lines_are_kept_where_they_were_written() -> None:
    assert parse_exercise("2/4 1/8: RLRR | LRLL |").bar_lines == (4, 8)
    assert parse_exercise("2/4 1/8: RLRR | LRL").bar_lines == (4,)


def test_without_a_meter_bars_are_as_long_as_the_first() -> None:
    assert parse_exercise("1/8: RLR | LRL | R").bar_lines == (3, 6)


@pytest.mark.parametrize(
    ("text", "column", "found", "must_be"),
    [
        ("", 1, "nothing to play", "an exercise, such as 1/8: RLRR LRLL"),
        ("   ", 4, "nothing to play", "an exercise"),
        ("RL 1/8: RR", 1, "'R'", "a note value first, such as 1/8: or 1/16:"),
        ("-", 1, "rests only", "at least one note, R or L"),
        ("1/8 RL", 5, "'R'", r"\(1/8 was read as the meter\)"),
        ("4/4: RL", 1, "4/4:", r"1/1: in lowest terms \(a meter takes no colon\)"),
        ("1/8: R 4/4 L", 8, "4/4 without a colon", "4/4: with a colon"),
        ("5/3 1/8: R", 1, "5/3", "a meter such as 4/4 or 6/8"),
        ("65/4 1/8: R", 1, "65/4", "1 to 64 beats"),
        ("1/8: RyL", 7, "'y'", "R, L, a grace"),
        ("1/8: R:", 7, "':'", "R, L, a grace"),
        ("1/8: R~~", 8, "'~' on its own", "right after its note, such as R~"),
        ("1/8: R ~", 8, "'~' on its own", "right after its note"),
        ("1/8: >-", 7, "'-'", "R or L right after '>', as in >R"),
        ("1/8: >>R", 7, "'>'", "R or L right after '>'"),
        ("1/8: >l>R", 8, "'>'", "R or L right after '>l', as in >lR"),
        ("1/8: l R", 7, "a space", "R or L right after 'l', as in lR"),
        ("1/8: RLl", 9, "the end", "R or L right after 'l'"),
        ("1/8: llllR", 9, "grace note 4", "a note takes up to 3 graces"),
        ("1/", 3, "the end", "a number after 1/"),
        ("  4/4 1 / 8: R", 8, "a space", "'/' after 1"),
        ("1x8: R", 2, "'x'", "'/' after 1"),
        ("1/0: R", 1, "1/0", "numbers above 0"),
        ("0/8: R", 1, "0/8", "numbers above 0"),
        ("1/12345: R", 3, "a number of 5 digits", "1 to 192"),
        ("1/193: R", 1, "1/193:", "from 1/192: to 2/1:"),
        ("5/2: R", 1, "5/2:", "from 1/192: to 2/1:"),
        ("1/8: 1/16: R", 6, "1/16:", "a note in the run before it"),
        ("1/8: R 1/16:", 13, "the end", "a note after the last note value"),
        ("1/8: --", 1, "rests only", "at least one note, R or L"),
        ("1/8: R||", 8, "a bar line right after another", "a note in bar 2"),
        ("1/8: RL|R|", 10, "bar 2 holds 1/8, unlike bar 1", "where it holds 1/4"),
        ("4/4 1/8: RLRRLRLL|RLRRLRL|", 26, "bar 2 holds 7/8, meter 4/4", "where it holds 4/4"),
        ("6/8 1/8: RLRL|", 14, "bar 1 holds 4/8, meter 6/8", "where it holds 6/8"),
    ],
)
def test_an_error_names_the_column_and_what_would_be_right(
    text: str, column: int, found: str, must_be: str
) -> None:
    with pytest.raises(BadExercise, match=must_be) as caught:
        parse_exercise(text)
    assert caught.value.column == column
    assert found in caught.value.found
    assert caught.value.text == text


@pytest.mark.parametrize(
    ("text", "column", "found", "must_be"),
    [
        ("1/8: R\tL", 7, "a tab", "a plain space"),
        ("1/8: R\u00a0L", 7, "'\u00a0'|no-break space", "a plain space"),
        ("1/8: RL\n", 8, "a line break", "one line"),
        ("1/8: RL\r\nRL", 8, "a line break", "one line"),
        ("1/8: Ｒ", 6, r"'Ｒ' \(fullwidth latin capital letter r\)", "a plain R"),
        ("1/8: R—L", 7, r"'—' \(em dash\)", "a plain -"),
        ("１/8: R", 1, "fullwidth digit one", "a plain 1"),
        ("1/²: R", 3, "superscript two", "a number after 1/"),
        ("1/8: R\u0301L", 7, "combining acute accent", "R, L, a grace"),
        ("1/8: R\u0000", 7, r"U\+0000|u\+0000", "R, L, a grace"),
        ("1/8: R🥁", 7, "drum with drumsticks", "R, L, a grace"),
        ("1/8: R\ud800", 7, r"u\+d800|U\+D800", "R, L, a grace"),
    ],
)
def test_a_look_alike_is_named(text: str, column: int, found: str, must_be: str) -> None:
    with pytest.raises(BadExercise, match=must_be) as caught:
        parse_exercise(text)
    assert caught.value.column == column
    assert re.search(found, caught.value.found)


def test_the_longest_exercise_is_read_and_one_note_more_is_not() -> None:
    longest = "1/16: " + "RLRL" * (MAX_NOTES // 4)
    assert len(parse_exercise(longest).notes) == MAX_NOTES
    with pytest.raises(BadExercise, match="at most 4,096 notes") as caught:
        parse_exercise(longest + "R")
    assert caught.value.column == len(longest) + 1


def test_the_longest_print_can_be_read_back() -> None:
    """4,096 notes, each with its own value, bar line, accent, graces and buzz, are within the limit."""
    notes = tuple(
        Note("R", Fraction(101 + at % 2, 192 - at % 2), accent=True, graces=("L", "L", "L"), buzz=True)
        for at in range(MAX_NOTES)
    )
    exercise = Exercise(notes)
    assert len(print_exercise(exercise)) < MAX_TEXT
    assert parse_exercise(print_exercise(exercise)) == exercise


def test_a_text_too_long_is_refused_unread() -> None:
    with pytest.raises(BadExercise, match="at most 131,072 characters"):
        parse_exercise(" " * (MAX_TEXT + 1))


def test_the_mirror_swaps_hands_and_graces_and_keeps_the_rest() -> None:
    exercise = parse_exercise("2/4 1/8: >lR~ - L L | 1/16: rLRLRRLLR")
    assert print_exercise(mirrored(exercise)) == "2/4 1/8: >rL~-RR | 1/16: lRLRL LRRL"


def test_a_bad_exercise_is_wrong_use() -> None:
    assert issubclass(BadExercise, WrongUse)
    assert BadExercise.exit_code == 2
