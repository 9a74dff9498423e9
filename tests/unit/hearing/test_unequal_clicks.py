"""A click of unequal beats, laid over invented takes, is found and taken out; strokes stand beside it."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.listen import listen
from evenhand.music.bars import clicks_along, count_in_length
from evenhand.music.click_pattern import EVERY_BEAT
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.click import click_voice
from tests.unit.hearing.sounds import played

LEAD_S = 0.4


@pytest.mark.parametrize(
    ("text", "tempo", "repetitions"),
    [
        ("2+2+3/8 1/8: RL RL RLR", "1/8=200", 8),
        ("7/8 1/8: RLRLRLR", "1/4=100", 8),  # the beat asked for is half a beat off in every other bar
        ("4/4 1/8: RLRR LRLL | 6/8 RLRLRL |", "1/4=100", 4),
        ("4/4 pickup 1/8: RL | RLRR LRLL |", "1/4=80", 6),
        ("3/4 pickup 1/8: R | RLRLRL", "1/4=80", 6),  # two and a half beats are counted
    ],
)
def test_strokes_are_heard_and_held_against_the_click(text: str, tempo: str, repetitions: int) -> None:
    """All notes and clicks at their places; a clean player is some 5 ms from the click, not half a beat."""
    exercise, at = parse_exercise(text), Tempo.parse(tempo)
    counted = count_in_length(exercise, at)
    take = played(text, tempo, repetitions, lead_in_s=LEAD_S + float(counted) * at.whole_note_s)
    until = counted + repetitions * exercise.length
    mix, due_s = take.samples.astype(np.float64), []
    for place in clicks_along(exercise, at, EVERY_BEAT, until, counted=True):
        due_s.append(LEAD_S + float(place.at) * at.whole_note_s)
        first = round(due_s[-1] * take.rate_hz)
        sound = 0.3 * click_voice(place.kind, take.rate_hz)
        mix[first : first + len(sound)] += sound[: len(mix) - first]
    heard = listen(mix.astype(np.float32), take.rate_hz, exercise=exercise, tempo=at)
    places = [(hit.repetition, hit.position) for hit in heard.hits]
    assert places == [(hit.repetition, hit.position) for hit in take.truth.hits]
    assert heard.clock == "click"
    assert heard.clicks_s == pytest.approx(due_s, abs=1e-3)
    assert (
        np.nanmedian(np.abs([hit.asynchrony_ms for hit in heard.hits if hit.asynchrony_ms is not None])) < 15
    )
    assert len(heard.extra) <= 1  # the higher click of the first count-in sounds alone but once
