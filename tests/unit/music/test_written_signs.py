"""Signs of exercise text beyond hands and values: what each means, and what is refused."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.errors import BadExercise, WrongOptions
from evenhand.music.exercise import ALL_MARKS, Exercise, Meter, Note, Repeat, Spelling, Tuplet, check_marks
from evenhand.music.loudness import dynamics_db, loud_positions, plain_positions
from evenhand.music.text import assumed_in, mirrored, parse_exercise, print_exercise

EIGHTH, QUARTER = Fraction(1, 8), Fraction(1, 4)


def letters(exercise: Exercise) -> str:
    return "".join("B" if note.both else note.hand or ("_" if note.held else "-") for note in exercise.notes)


def test_everything_a_note_can_carry_more() -> None:
    assert parse_exercise("1/8: B ^R (L) Rx Lo Rk R~+ L R _ f cresc R").notes == (
        Note("R", EIGHTH, both=True),
        Note("R", EIGHTH, accent=True, strong=True),
        Note("L", EIGHTH, ghost=True),
        Note("R", EIGHTH, sound="cross"),
        Note("L", EIGHTH, sound="rim"),
        Note("R", EIGHTH, sound="foot"),
        Note("R", EIGHTH, buzz=True, tied=True),
        Note("L", EIGHTH),
        Note("R", EIGHTH),
        Note(None, EIGHTH, held=True),
        Note("R", EIGHTH, dynamic="f", swell="cresc"),
    )


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("rlrr lrll", "1/8: RLRR LRLL"),
        ("RLRR LRLL", "1/8: RLRR LRLL"),
        ("4/4 RLRR LRLL", "4/4 1/8: RLRR LRLL"),
        ("1/16: rlrr", "1/16: RLRR"),
        ("1/8: (R)(L) R ( lR)", "1/8: (RL)R (lR)"),
        ("1/8: (RL", None),
        ("4/4 pickup 1/8:RL|RLRRLRLL|", "4/4 pickup 1/8: RL | RLRR LRLL |"),
        ("3+2+2/8 1/8:RLRLRLR|4/4 1/4:RLRL", "3+2+2/8 1/8: RLRL RLR | 4/4 1/4: RLRL"),
        ("1/8: RL{ 3 RLR}", None),
        ("1/8: RL{3RLR}RL", "1/8: RL {3 RLR} RL"),
        ("1/16: {7:6 RLRLRLR} {5:4 RLRLR}", "1/16: {7:6 RLRLRLR} {5 RLRLR}"),
        ("1/4: R///+L", "1/4: R///+L"),
        ("4/4 1/4: | |: RLRL | :| | RLRL", "4/4 |: 1/4: RLRL :| RLRL"),
        ("1/4: |: RL [1 RR :| [2 LL", "|: 1/4: RL [1 RR :| [2 LL ]"),
        ("1/4: |: RL :|x2", "|: 1/4: RL :|"),
        ("p 1/8: R cresc L f R dim L", "1/8: p R cresc L f R dim L"),
        ("count 4/4 1/8: R", "4/4 count 1/8: R"),
    ],
)
def test_one_exercise_is_printed_one_way(text: str, printed: str | None) -> None:
    if printed is None:
        with pytest.raises(BadExercise):
            parse_exercise(text)
        return
    assert print_exercise(parse_exercise(text)) == printed
    assert parse_exercise(printed) == parse_exercise(text)


def test_what_was_taken_as_a_beginner_means_it_is_known() -> None:
    assert assumed_in("rlrr lrll") == {"value", "capitals"}
    assert assumed_in("RLRR LRLL") == {"value"}
    assert assumed_in("1/16: rlrr") == {"capitals"}
    assert assumed_in("1/8: lR") == frozenset()


def test_slashes_become_strokes_by_doubles() -> None:
    """Three slashes on a quarter are eight thirty-seconds; flags count along (common practice)."""
    roll = parse_exercise("1/4: >lR///+ L")
    assert letters(roll) == "RRLLRRLL" + "L"
    assert [note.value for note in roll.notes] == [Fraction(1, 32)] * 8 + [QUARTER]
    assert [note.accent for note in roll.notes] == [True] + [False] * 8
    assert roll.notes[7].tied
    assert roll.spelling.slashed == ((0, 8),)
    assert letters(parse_exercise("3/8: R/// 1/8: L// 1/4: R")) == "RRLLRRLLRRLL" + "LLRR" + "R"
    assert letters(parse_exercise("5/16: R///")) == "RRLLRRLLRR"
    assert letters(parse_exercise("{3 1/4: R/ LR}")) == "RR" + "LR"  # a quarter of three: two eighths of it


def test_tuplets_of_any_ratio_inside_a_run() -> None:
    played = parse_exercise("1/8: RL {3 RLR} {5:3 RLRLR} {3 1/4: R 1/8: L}")
    third, fifth = Fraction(1, 12), Fraction(3, 40)
    assert [note.value for note in played.notes] == [
        *[EIGHTH] * 2, *[third] * 3, *[fifth] * 5, Fraction(1, 6), third,
    ]  # fmt: skip
    assert played.spelling.tuplets == (Tuplet(2, 5, 3, 2), Tuplet(5, 10, 5, 3), Tuplet(10, 12, 3, 2))


def test_repeats_are_played_out() -> None:
    played = parse_exercise("4/4 1/4: |: RLRR | 2/4 LR [1 4/4 RRRR :| [2 4/4 LLLL ] RLRL")
    assert letters(played) == "RLRRLR" + "RRRR" + "RLRRLR" + "LLLL" + "RLRL"
    assert played.spelling.repeats == (Repeat(0, 6, 2, (4, 4)),)
    assert [(start, str(meter)) for start, _, meter in played.sections] == [
        (0, "4/4"), (4, "2/4"), (6, "4/4"), (10, "4/4"), (14, "2/4"), (16, "4/4"), (20, "4/4"),
    ]  # fmt: skip
    assert letters(parse_exercise("1/8: |: RL :|x3 R")) == "RLRLRLR"


def test_a_pickup_is_shorter_than_a_bar_and_bars_count_from_behind_it() -> None:
    played = parse_exercise("4/4 pickup 1/8: RL | RLRR LRLL |")
    assert played.spelling == Spelling(pickup=True)
    assert played.sections == ((0, 2, Meter(4, 4)), (2, 10, Meter(4, 4)))
    assert not played.keeps_meter


@pytest.mark.parametrize(
    ("text", "column", "found", "must_be"),
    [
        ("1/8: piano R", 6, "'piano'", "or a word: ppp, pp"),
        ("1/8: RL f", 9, "'f' at the end", "before a note"),
        ("1/8: f p R", 8, "'p' right after 'f'", "a note between them"),
        ("1/8: R pickup L", 8, "'pickup' after a note", "before the first note"),
        ("4/4 pickup 1/8: RLRRLRLL|", 25, "the pickup holds 4/4", "less than 4/4"),
        ("4/4 pickup 1/8: RL", 19, "the end", "a bar line after the pickup"),
        ("4/4 1/8: RL 3/4 R", 13, "3/4 without a colon", "right after a bar line"),
        ("3+/8 1/8: R", 3, "'/'", r"a number after 3\+"),
        ("1/8: _R", 6, "'_'", "after a note"),
        ("1/8: R-_", 8, "'_'", "after a note"),
        ("1/8: R+-", 8, "'-'", "a note after '\\+'"),
        ("1/8: (>R)", 7, "an accent inside", "without an accent"),
        ("1/8: (R", 8, "the end", "'\\)' for the bracket of column 6"),
        ("1/8: ()R", 7, "'\\)'", "right after a note"),
        ("1/8: B//", 6, "'B//'", "both hands take no slashes"),
        ("1/8: Rk~", 6, "'Rk~'", "a foot's note"),
        ("1/8: R~//", 6, "'~' and slashes", "one of them"),
        ("1/8: R/////", 11, "slash 5", "up to 4"),
        ("1/8: {RLR}", 7, "'R'", "a number after '{'"),
        ("1/8: {3 RL}", 11, "a tuplet of 3 that holds 1/4", "3 notes of one value"),
        ("1/8: {1 R}", 6, "{1:", "2 to 32 notes"),
        ("1/8: {3 RLR", 12, "the end", "'}' for the bracket of column 6"),
        ("1/8: {3 RL|R}", 11, "a bar line inside { }", "'}' before it"),
        ("1/64: {7:3 RLRLRLR}", 12, "a note that comes out at 3/448", "no stroke is shorter than 1/192"),
        ("|: 1/8: RL", 11, "the end", "':\\|' for the repeat of column 1"),
        ("1/8: R :|", 8, "':\\|'", "'\\|:' before it"),
        ("1/8: |: R |: L", 11, "'\\|:' inside a repeat", "':\\|' first"),
        ("1/8: [1 R", 6, "'\\[1'", "inside a repeat"),
        ("1/8: |: R [2 L", 11, "'\\[2'", "\\[1"),
        ("1/8: |: R [1 L :| R", 19, "'R'", "\\[2 after ':\\|'"),
        ("1/8: |: R [1 L :|", 18, "the end", "\\[2 for the repeat"),
        ("1/8: |: R :|x1", 11, ":\\|x1", "2 to 99 times"),
        ("4/4 1/8: |: RLR :|", 17, "bar 1 holds 3/8", "where it holds 4/4"),
        ("1/8: |: " + "RLRL" * 20 + ":|x99", 89, "as played", "at most 4,096 notes"),
    ],
)
def test_an_error_names_the_column_and_what_would_be_right(
    text: str, column: int, found: str, must_be: str
) -> None:
    with pytest.raises(BadExercise, match=must_be) as caught:
        parse_exercise(text)
    assert caught.value.column == column
    assert found.replace("\\", "") in caught.value.found


def test_the_mirror_keeps_both_hands_and_repeats() -> None:
    exercise = parse_exercise("|: 1/8: B (lR) Lk :| R/")
    assert print_exercise(mirrored(exercise)) == "|: 1/8: B (rL)Rk :| L/"


def test_levels_by_dynamics_and_swells() -> None:
    """One dynamic to the next is 4 dB: the house's own scale."""
    assert dynamics_db(parse_exercise("1/8: RLR")) == (0, 0, 0)
    assert dynamics_db(parse_exercise("1/8: RL pp R")) == (-4, -4, -16)
    assert dynamics_db(parse_exercise("1/4: ff dim R L mf R")) == (0, -4, -8)
    assert dynamics_db(parse_exercise("1/4: f dim RL RL")) == (0, -1, -2, -3)


def test_which_notes_are_meant_alike() -> None:
    assert plain_positions(parse_exercise("1/8: >R L (R) L")) == {1, 3}
    assert plain_positions(parse_exercise("1/8: p RLR f LR")) == {0, 1, 2}
    assert loud_positions(parse_exercise("1/8: R (L)(R) L")) == {0, 3}
    assert loud_positions(parse_exercise("1/8: >R f L p R")) == frozenset()


def test_what_cannot_be_carried_is_named() -> None:
    exercise = parse_exercise("1/8: B (R)")
    assert exercise.marks == {"both hands at once", "ghost notes"}
    with pytest.raises(WrongOptions, match="both hands at once, ghost notes; must be one without, for MIDI"):
        check_marks(exercise, ALL_MARKS, "MIDI")
    check_marks(parse_exercise("4/4 1/8: >lR~LRR LRLL |"), ALL_MARKS, "MIDI")
