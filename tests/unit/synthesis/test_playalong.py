"""A play-along: what is written, exactly when it is due, as loud as it is high."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from evenhand.music.click_pattern import ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.playalong import Mixing, Part, PlayalongAsked, lay_playalong, playalong_track
from evenhand.synthesis.pulse import Change
from evenhand.synthesis.strokes import highpass_response, levels_rms, starts, to_db
from evenhand.synthesis.voice import level_of_height_db, stroke_sound

RATE_HZ = 48_000


def part(text: str, **levels: float) -> Part:
    exercise = parse_exercise(text)
    flat: dict[tuple[int, int | None], float] = {}
    for position in exercise.struck:
        note = exercise.notes[position]
        flat[position, None] = levels.get("accent", 0.0) if note.accent else levels.get("plain", 0.0)
        flat |= {(position, k): -7.4 for k in range(len(note.graces))}
    return Part(exercise, flat, text)


def asked(*texts: str, tempo: str = "1/4=60", **more: Any) -> PlayalongAsked:
    return PlayalongAsked(tuple(part(text) for text in texts), Tempo.parse(tempo), **more)


def test_a_count_in_then_every_repetition() -> None:
    """At 1/4=60 a bar of four lasts 4 s, an eighth half a second."""
    laid = lay_playalong(asked("1/8: RLRR LRLL", repetitions=2))
    assert [bar.kind for bar in laid.bars] == ["count-in", "played", "played"]
    assert [blow.time_s for blow in laid.blows] == [4 + Fraction(k, 2) for k in range(16)]
    assert "".join(blow.hand for blow in laid.blows) == "RLRRLRLL" * 2
    assert [click.time_s for click in laid.clicks] == list(range(12))
    assert laid.tempo_map.seconds == 12


def test_exercises_of_a_book_follow_each_other_with_a_bar_between() -> None:
    """Four eighths last 2 s; the second's bar is a 3/4, so its rest lasts 3 s, and so does it."""
    laid = lay_playalong(asked("1/8: RLRL", "3/4 1/4: RLR", repetitions=1, count_in=0))
    assert [bar.kind for bar in laid.bars] == ["played", "rest", "played"]
    assert [blow.time_s for blow in laid.blows] == [0, Fraction(1, 2), 1, Fraction(3, 2), 5, 6, 7]
    assert [(blow.part, blow.repetition) for blow in laid.blows[3:5]] == [(0, 1), (1, 1)]
    assert laid.tempo_map.seconds == 8


def test_the_tempo_steps_with_the_repetitions_and_begins_anew_with_each_exercise() -> None:
    """Four quarters: 4 s at 60, 2 s at 120; then a bar's rest at 60."""
    laid = lay_playalong(
        asked("1/4: RLRL", "1/4: RRLL", repetitions=2, count_in=1, change=Change(Fraction(60)))
    )
    assert [laid.tempo_map.time_s(bar.at) for bar in laid.bars] == [0, 4, 8, 10, 14, 18]
    assert laid.tempo_map.seconds == 20


def test_silent_bars_silence_click_and_exercise() -> None:
    laid = lay_playalong(
        asked("1/4: RLRL", repetitions=4, count_in=1, pattern=ClickPattern.parse("silent=1:1"))
    )
    heard = {int(blow.time_s // 4) for blow in laid.blows}
    assert heard == {1, 3}
    assert {int(click.time_s // 4) for click in laid.clicks} == {0, 1, 3}


@pytest.mark.parametrize(("click", "bars"), [("on", {0, 1}), ("count-in", {0}), ("off", set())])
def test_the_click_sounds_where_it_is_wanted(click: str, bars: set[int]) -> None:
    laid = lay_playalong(asked("1/4: RLRL", repetitions=1, click=click))
    assert {int(c.time_s // 4) for c in laid.clicks} == bars


def test_graces_come_ahead_of_their_note_and_a_buzz_bounces_on() -> None:
    """Graces 30 ms apart; a buzz's bounces every 27.5 ms, 3.5 dB weaker each."""
    drag = lay_playalong(asked("1/4: llR", repetitions=1, count_in=1)).blows
    assert [1000 * (blow.time_s - drag[-1].time_s) for blow in drag] == [-60, -30, 0]
    assert "".join(blow.hand for blow in drag) == "LLR"
    buzz = lay_playalong(asked("1/8: R~ L", repetitions=1, count_in=1)).blows
    assert [blow.level_db for blow in buzz[:3]] == [0.0, -3.5, -7.0]
    assert 1000 * (buzz[1].time_s - buzz[0].time_s) == Fraction(55, 2)


def test_half_the_height_is_three_decibels() -> None:
    """Speed goes with the root of the height, pressure with speed: 10 log10 of the ratio."""
    assert level_of_height_db(11 * 2.54) == 0
    assert level_of_height_db(5.5 * 2.54) == pytest.approx(-3.0103, abs=1e-4)
    assert level_of_height_db(4 * 2.54) == pytest.approx(-4.3933, abs=1e-4)


@pytest.mark.parametrize("level_db", [0.0, -4.4, -12.0])
def test_a_stroke_starts_at_its_sample_with_its_level(level_db: float) -> None:
    """Measured again by the definitions in ``onset``."""
    made = stroke_sound("L", level_db, RATE_HZ)
    n_fft = 16_384
    spectrum = np.fft.rfft(made.sound, n_fft) * highpass_response(RATE_HZ, n_fft)
    row = np.fft.irfft(spectrum, n_fft)[None, : len(made.sound)]
    start = starts(row)
    assert float(start[0]) == pytest.approx(made.start, abs=0.1)
    assert float(to_db(levels_rms(row, start, RATE_HZ))[0]) == pytest.approx(level_db, abs=0.05)


def test_the_same_stroke_is_the_same_sound() -> None:
    np.testing.assert_array_equal(
        stroke_sound("R", -3.0, RATE_HZ).sound, stroke_sound("R", -3.0, RATE_HZ).sound
    )


def test_the_exercise_stands_under_the_click_by_what_was_asked() -> None:
    """A stroke from full height peaks 12 dB under the click's peak of 1."""
    laid = lay_playalong(asked("1/4: RLRL", repetitions=1, count_in=1))
    track = playalong_track(laid, RATE_HZ, Mixing(-12.0))
    quiet = playalong_track(laid, RATE_HZ, Mixing(None))
    played = np.abs(track.read(0, track.frames)).max(), np.abs(quiet.read(0, quiet.frames)).max()
    alone = playalong_track(
        lay_playalong(asked("1/4: RLRL", repetitions=1, click="off")), RATE_HZ, Mixing(-12.0)
    )
    assert played[1] == pytest.approx(1, abs=1e-6)
    assert float(np.abs(alone.read(0, alone.frames)).max()) == pytest.approx(10**-0.6, rel=0.2)


def test_hands_apart_are_louder_on_their_own_side() -> None:
    """The other side is 9 dB down."""
    laid = lay_playalong(asked("1/4: RL", repetitions=1, count_in=0, click="off"))
    track = playalong_track(laid, RATE_HZ, Mixing(0.0, hands_apart=True))
    right, left = track.read(0, RATE_HZ // 2), track.read(RATE_HZ - 200, RATE_HZ + RATE_HZ // 2)
    for own, other in ((right[:, 1], right[:, 0]), (left[:, 0], left[:, 1])):
        ratio_db = 10 * np.log10(float((own.astype(float) ** 2).sum() / (other.astype(float) ** 2).sum()))
        assert ratio_db == pytest.approx(9.0, abs=0.01)


def test_the_click_in_one_ear_leaves_the_exercise_in_both() -> None:
    laid = lay_playalong(asked("1/4: RL", repetitions=1, count_in=1))
    frames = playalong_track(laid, RATE_HZ, Mixing(0.0, ear="left")).read(0, 4 * RATE_HZ)
    assert frames[: 2 * RATE_HZ, 0].any()
    assert not frames[: RATE_HZ - 200, 1].any()
    assert frames[2 * RATE_HZ :, 1].any()
