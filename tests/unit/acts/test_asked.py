"""An exercise and its tempo go together, and what cannot be read is named."""

from __future__ import annotations

import pytest

from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import BadExercise, BadTempo, WrongOptions


def test_nothing_said_is_blind() -> None:
    assert TakeRequest.read(None, None).blind
    assert TakeRequest.read("  ", "").blind
    assert TakeRequest.read(None, None, "").click == "auto"


def test_an_exercise_and_a_tempo_are_read() -> None:
    asked = TakeRequest.read(" 1/8: RLRR LRLL ", "1/8 = 140", "none")
    assert asked.exercise is not None
    assert [note.hand for note in asked.exercise.notes] == list("RLRRLRLL")
    assert asked.exercise_text == "1/8: RLRR LRLL"
    assert asked.tempo is not None
    assert asked.tempo.bpm == 140
    assert asked.click == "none"


def test_the_click_that_was_on_is_read() -> None:
    asked = TakeRequest.read("3/4 1/8: RLRLRL", "1/4=80", "heard", pattern="bar silent=2:1")
    assert str(asked.pattern) == "bar silent=2:1"
    with pytest.raises(WrongOptions, match="click pattern"):
        TakeRequest.read("3/4 1/8: RLRLRL", "1/4=80", "heard", pattern="loud")


@pytest.mark.parametrize(
    ("exercise", "tempo", "message"),
    [
        ("1/8: RL", None, "got an exercise without a tempo; must be both"),
        (None, "1/8=70", "got a tempo without an exercise; must be both, or neither"),
    ],
)
def test_one_without_the_other_is_refused(exercise: str | None, tempo: str | None, message: str) -> None:
    with pytest.raises(WrongOptions, match=message):
        TakeRequest.read(exercise, tempo)


def test_what_cannot_be_read_is_named() -> None:
    with pytest.raises(BadExercise, match="column"):
        TakeRequest.read("1/8: RLX", "1/8=70")
    with pytest.raises(BadTempo, match="1/8=70"):
        TakeRequest.read("1/8: RL", "fast")
    with pytest.raises(WrongOptions, match="click 'loud'; must be auto, heard or none"):
        TakeRequest.read(None, None, "loud")
