"""Laws of exercise text."""

from __future__ import annotations

from hypothesis import example, given
from hypothesis import strategies as st

from evenhand.errors import BadExercise
from evenhand.music.exercise import Exercise
from evenhand.music.text import mirrored, parse_exercise, print_exercise
from tests.strategies import exercises, signed_texts

GRAMMAR_LETTERS = "RLBrl>^~-_|:/+(){}[]xkfp 0123456789"


@given(exercises())
def test_what_is_printed_is_read_back(exercise: Exercise) -> None:
    assert parse_exercise(print_exercise(exercise)) == exercise


@given(st.text() | st.text(alphabet=GRAMMAR_LETTERS, max_size=60))
@example("4/4 1/8:")
@example("1/8:R\ud800")
def test_any_text_is_an_exercise_or_a_named_error(text: str) -> None:
    try:
        exercise = parse_exercise(text)
    except BadExercise as error:
        column, says = error.column, error.found and error.must_be
    else:
        column, says = 1, print_exercise(exercise)
        assert parse_exercise(says) == exercise
    assert 1 <= column <= len(text) + 1
    assert says


@given(exercises(), st.lists(st.sampled_from(("", " ", "  ")), min_size=7, max_size=7))
def test_spaces_between_notes_are_free(exercise: Exercise, spaces: list[str]) -> None:
    printed = print_exercise(exercise)
    loose = "".join(
        char + spaces[at % 7] if char in {" ", "|", ":"} else char for at, char in enumerate(printed)
    )
    assert parse_exercise(loose) == exercise
    assert print_exercise(parse_exercise(loose)) == printed


@given(exercises())
def test_mirroring_twice_changes_nothing(exercise: Exercise) -> None:
    assert mirrored(mirrored(exercise)) == exercise
    assert mirrored(exercise).struck == exercise.struck


@given(signed_texts())
def test_every_sign_is_printed_and_read_back(text: str) -> None:
    exercise = parse_exercise(text)
    printed = print_exercise(exercise)
    assert parse_exercise(printed) == exercise
    assert print_exercise(parse_exercise(printed)) == printed
    assert parse_exercise(print_exercise(mirrored(exercise))) == mirrored(exercise)
