"""Written music in words, for a screen reader."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.music.text import parse_exercise
from evenhand.report.words.practice import music_words, value_words


def said(text: str, **more: object) -> str:
    exercise = parse_exercise(text)
    return music_words(exercise, range(len(exercise.notes)), **more)  # type: ignore[arg-type] # line, of, end


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1/16: RLRR LRLL", "Sixteenth notes: R L R R L R L L."),
        ("4/4 1/4: RLRL", "4/4. Quarter notes: R L R L."),
        ("1/8: >R lR llR rlrL", "Eighth notes: accent R, flam R, drag R, ruff L."),
        ("1/8: R~ - >lR", "Eighth notes: buzz R, rest, accent flam R."),
        ("1/8: rR lrL rrrL", "Eighth notes: graces R before R, graces L R before L, graces R R R before L."),
        ("1/4: R 1/8: LR", "Quarter note: R. Eighth notes: L R."),
        ("1/12: RLR", "Eighth-note triplets: R L R."),
    ],
)
def test_an_exercise_is_said_by_note_values_and_letters(text: str, words: str) -> None:
    assert said(text) == words


def test_of_several_lines_each_says_which_it_is_and_the_last_how_it_ends() -> None:
    exercise = parse_exercise("2/4 1/8: RLRL | RLRL")
    assert music_words(exercise, (0, 1, 2, 3), line=1, of=2, end="Repeated.") == (
        "Line 1 of 2. 2/4. Eighth notes: R L R L."
    )
    assert music_words(exercise, (4, 5, 6, 7), line=2, of=2, end="Repeated.") == (
        "Line 2 of 2. Eighth notes: R L R L. Repeated."
    )


@pytest.mark.parametrize(
    ("value", "words"),
    [
        # The trade's names: a value of 1/12 is an eighth-note triplet's, three in the time of two eighths.
        (Fraction(1, 1), "whole note"),
        (Fraction(3, 8), "dotted quarter note"),
        (Fraction(3, 2), "dotted whole note"),
        (Fraction(1, 24), "sixteenth-note triplet"),
        (Fraction(1, 6), "quarter-note triplet"),
        (Fraction(1, 20), "1/20 note"),
        (Fraction(2, 1), "2/1 note"),
    ],
)
def test_note_values_have_the_names_of_the_trade(value: Fraction, words: str) -> None:
    assert value_words(value) == words
