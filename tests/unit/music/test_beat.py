"""The beat that one feels (common practice: a click is set from 40 to 208, on the beat of the meter)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.music.beat import click_tempo, felt_beat, felt_beat_of_all, felt_tempo, tempo_on
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from tests.strategies import exercises

FELT = (Fraction(1, 2), Fraction(3, 8), Fraction(1, 4), Fraction(1, 8))


@pytest.mark.parametrize(
    ("text", "tempo", "felt"),
    [
        ("1/8: RLRR LRLL", "1/8 = 200", "1/4 = 100"),
        ("1/8: RLRR LRLL", "1/8 = 60", "1/8 = 60"),  # a quarter of 30 is slower than one feels
        ("1/8: RRLL", "1/8 = 440", "1/2 = 110"),
        ("1/16: RLRR LRLL", "1/16 = 320", "1/4 = 80"),
        ("1/32: RRLL RRLL", "1/32 = 480", "1/4 = 60"),
        ("1/32: RRLL RRLL", "1/32 = 240", "1/8 = 60"),
        ("1/12: RLR LRL", "1/12 = 240", "1/4 = 80"),
        ("6/8 1/8: RLR LRL", "1/8 = 180", "3/8 = 60"),
        ("6/8 1/8: RLR LRL", "1/8 = 90", "1/8 = 90"),
        ("2/2 1/8: RLRL RLRL", "1/8 = 320", "1/2 = 80"),
        ("7/8 1/8: RLRLRLR", "1/8 = 180", "1/8 = 180"),
    ],
)
def test_a_tempo_is_given_on_the_beat_that_one_feels(text: str, tempo: str, felt: str) -> None:
    assert str(felt_tempo(parse_exercise(text), Tempo.parse(tempo))) == felt


@given(exercises(max_runs=2, max_run=6).filter(lambda each: bool(each.struck)), st.floats(0.3, 20.0))
def test_every_exercise_at_every_speed_has_a_tempo_from_40_to_208(exercise: object, whole_s: float) -> None:
    tempo = click_tempo(exercise, whole_s)  # type: ignore[arg-type]
    assert tempo.beat in FELT
    assert 40 <= tempo.bpm <= 208


@given(st.sampled_from(FELT), st.sampled_from(FELT), st.floats(20, 240))
def test_a_tempo_on_another_beat_is_as_fast(beat: Fraction, other: Fraction, bpm: float) -> None:
    tempo = Tempo(beat, bpm)
    assert tempo_on(other, tempo).whole_note_s == pytest.approx(tempo.whole_note_s)


def test_several_speeds_share_a_beat_that_holds_them_all() -> None:
    exercise = parse_exercise("1/8: RLRR LRLL")
    assert felt_beat_of_all(exercise, [60 / 35 * 4, 60 / 44 * 4]) == Fraction(1, 8)  # a quarter of 35 to 44
    assert felt_beat(exercise, 60 / 44 * 4) == Fraction(1, 4)
