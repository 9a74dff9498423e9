"""A play-along: what is written, exactly when it is due, as loud as it is high."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest

from evenhand.acts.exercises.tracks import parts_of
from evenhand.music.book import Entry
from evenhand.music.click_pattern import ClickPattern
from evenhand.music.exercise import HANDS, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.click import Floats
from evenhand.synthesis.playalong import (
    MOST_TIME_S,
    LaidPlayalong,
    Mixing,
    Part,
    PlayalongAsked,
    lay_playalong,
    playalong_track,
)
from evenhand.synthesis.playing import MOST_BOUNCES
from evenhand.synthesis.pulse import Change
from evenhand.synthesis.strokes import highpass_response, levels_rms, starts, to_db
from evenhand.synthesis.voice import level_of_height_db, stroke_sounds

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


def seconds(laid: LaidPlayalong) -> list[float]:
    return [float(blow.time_s) for blow in laid.blows]


def test_a_count_in_then_every_repetition() -> None:
    """At 1/4=60 a bar of four lasts 4 s, an eighth half a second."""
    laid = lay_playalong(asked("1/8: RLRR LRLL", repetitions=2))
    assert [bar.kind for bar in laid.bars] == ["count-in", "played", "played"]
    assert seconds(laid) == pytest.approx([4 + k / 2 for k in range(16)], abs=MOST_TIME_S)
    assert "".join(blow.hand for blow in laid.blows) == "RLRRLRLL" * 2
    assert [click.time_s for click in laid.clicks] == list(range(12))
    assert laid.tempo_map.seconds == 12


def test_exercises_of_a_book_follow_each_other_with_a_bar_between() -> None:
    """Four eighths last 2 s; the second's bar is a 3/4, so its rest lasts 3 s, and so does it."""
    laid = lay_playalong(asked("1/8: RLRL", "3/4 1/4: RLR", repetitions=1, count_in=0))
    assert [bar.kind for bar in laid.bars] == ["played", "rest", "played"]
    assert seconds(laid) == pytest.approx([0, 0.5, 1, 1.5, 5, 6, 7], abs=MOST_TIME_S)
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
    heard = {round(blow.time_s) // 4 for blow in laid.blows}
    assert heard == {1, 3}
    assert {int(click.time_s // 4) for click in laid.clicks} == {0, 1, 3}


@pytest.mark.parametrize(("click", "bars"), [("on", {0, 1}), ("count-in", {0}), ("off", set())])
def test_the_click_sounds_where_it_is_wanted(click: str, bars: set[int]) -> None:
    laid = lay_playalong(asked("1/4: RLRL", repetitions=1, click=click))
    assert {int(c.time_s // 4) for c in laid.clicks} == bars


def test_graces_come_ahead_of_their_note_and_a_buzz_bounces_ever_sooner() -> None:
    """Graces 30 ms apart; a buzz's bounces after 34 ms, then 0.87 of that, and so on, 3.5 dB weaker each."""
    drag = lay_playalong(asked("1/4: llR", repetitions=1, count_in=1)).blows
    assert [1000 * (blow.time_s - drag[-1].time_s) for blow in drag] == [-60, -30, 0]
    assert "".join(blow.hand for blow in drag) == "LLR"
    buzz = lay_playalong(asked("1/8: R~ L", repetitions=1, count_in=1)).blows
    assert [blow.level_db for blow in buzz[:3]] == [0.0, -3.5, -7.0]
    gaps_ms = [1000 * float(b.time_s - a.time_s) for a, b in pairwise(buzz[:4])]
    assert gaps_ms == pytest.approx([34, 29.58, 25.7346])
    # Four fifths of an eighth at 60, 400 ms, hold all seven bounces; of a thirty-second, 100 ms, three.
    assert len(buzz) == 1 + MOST_BOUNCES + 1
    assert len(lay_playalong(asked("1/32: R~ L", repetitions=1, count_in=1)).blows) == 1 + 3 + 1


def test_a_tap_lies_ten_decibels_under_an_accent() -> None:
    """From 4 in beside 11 in: 24 log10(11 / 4). Nine to twelve are heard as right (common practice)."""
    assert level_of_height_db(11 * 2.54) == 0
    assert level_of_height_db(4 * 2.54) == pytest.approx(-10.544, abs=1e-3)


@pytest.mark.parametrize("level_db", [0.0, -4.4, -12.0])
def test_a_stroke_starts_at_its_sample_with_its_level(level_db: float) -> None:
    """Measured again by the definitions in ``onset``."""
    n_fft = 16_384
    for made in stroke_sounds("L", level_db, RATE_HZ, 4):
        spectrum = np.fft.rfft(made.sound, n_fft) * highpass_response(RATE_HZ, n_fft)
        row = np.fft.irfft(spectrum, n_fft)[None, : len(made.sound)]
        start = starts(row)
        assert float(start[0]) == pytest.approx(made.start, abs=0.1)
        assert float(to_db(levels_rms(row, start, RATE_HZ))[0]) == pytest.approx(level_db, abs=0.05)


def alike(a: Floats, b: Floats) -> float:
    """Return the highest correlation of two sounds within a millisecond."""
    n = min(len(a), len(b))
    return max(float(np.corrcoef(a[48 : n - 48], b[48 + k : n - 48 + k])[0, 1]) for k in range(-48, 49))


def test_no_two_strokes_are_the_same_and_the_hands_differ() -> None:
    """Two strokes of one drummer on one snare correlate .70 to .99 at five microphones (measured)."""
    right, left = ([each.sound for each in stroke_sounds(hand, 0.0, RATE_HZ, 8)] for hand in HANDS)
    own = [alike(a, b) for a, b in combinations(right, 2)]
    across = [alike(a, b) for a in right[:4] for b in left[:4]]
    assert min(own) > 0.5
    assert max(own) < 0.98
    assert max(across) < 0.95
    assert np.median(across) < np.median(own)


def test_a_note_never_sounds_as_it_did_in_the_repetition_before() -> None:
    laid = lay_playalong(asked("1/8: RLRR LRLL", repetitions=6))
    of_note: dict[int, list[int]] = {}
    for blow in laid.blows:
        of_note.setdefault(blow.position, []).append(blow.variant)
    assert all(a != b for variants in of_note.values() for a, b in pairwise(variants))
    assert 0.3 < np.std([blow.off_db for blow in laid.blows]) < 0.7


def test_most_of_an_accent_is_where_a_telephone_s_loudspeaker_is() -> None:
    """Over 500 Hz lie more than half of an accent's energy and a third of a tap's; 19 and 11 % it was."""
    for level_db, least in ((0.0, 0.5), (-10.5, 0.3)):
        made = stroke_sounds("R", level_db, RATE_HZ, 8)
        power = np.sum([np.abs(np.fft.rfft(each.sound, 1 << 14)) ** 2 for each in made], axis=0)
        over = np.fft.rfftfreq(1 << 14, 1 / RATE_HZ) > 500
        assert np.sum(power[over]) / np.sum(power) > least


def test_the_same_play_along_is_the_same_sound() -> None:
    laid = [lay_playalong(asked("1/4: RLRL", repetitions=2)) for _ in range(2)]
    first, again = (playalong_track(each, RATE_HZ, Mixing()) for each in laid)
    np.testing.assert_array_equal(first.read(0, first.frames), again.read(0, again.frames))


def test_swing_draws_the_first_half_of_a_beat_out() -> None:
    """At 60 the second eighth comes after two thirds of a second."""
    laid = lay_playalong(
        asked("1/8: RLRL", repetitions=1, pattern=ClickPattern.parse("offbeats swing=2/3"), count_in=0)
    )
    assert seconds(laid) == pytest.approx([0, 2 / 3, 1, 5 / 3], abs=MOST_TIME_S)


def test_the_exercise_stands_beside_the_click_by_what_was_asked() -> None:
    """A stroke from full height peaks 12 dB under the click's peak of 1: the middle one of sixteen."""
    laid = lay_playalong(asked("1/4: RLRL", repetitions=4, count_in=0))
    clicks = playalong_track(laid, RATE_HZ, Mixing(None))
    assert float(np.abs(clicks.read(0, clicks.frames)).max()) == pytest.approx(1, abs=1e-6)
    plain = lay_playalong(asked("1/4: RLRL", repetitions=4, count_in=0, click="off"))
    sound = np.abs(playalong_track(plain, RATE_HZ, Mixing(-12.0)).read(0, 16 * RATE_HZ)[:, 0])
    peaks = [sound[max(k * RATE_HZ - 400, 0) :][:RATE_HZ].max() for k in range(16)]
    assert float(np.median(peaks)) == pytest.approx(10**-0.6, rel=0.1)


def test_hands_apart_are_louder_on_their_own_side() -> None:
    """The other side is 9 dB down."""
    laid = lay_playalong(asked("1/4: RL", repetitions=1, count_in=0, click="off"))
    track = playalong_track(laid, RATE_HZ, Mixing(0.0, hands_apart=True))
    right, left = track.read(0, RATE_HZ // 2), track.read(RATE_HZ - 400, RATE_HZ + RATE_HZ // 2)
    for own, other in ((right[:, 1], right[:, 0]), (left[:, 0], left[:, 1])):
        ratio_db = 10 * np.log10(float((own.astype(float) ** 2).sum() / (other.astype(float) ** 2).sum()))
        assert ratio_db == pytest.approx(9.0, abs=0.01)


def test_the_click_in_one_ear_leaves_the_exercise_in_both() -> None:
    laid = lay_playalong(asked("1/4: RL", repetitions=1, count_in=1))
    frames = playalong_track(laid, RATE_HZ, Mixing(0.0, ear="left")).read(0, 4 * RATE_HZ)
    assert frames[: 2 * RATE_HZ, 0].any()
    assert not frames[: RATE_HZ - 400, 1].any()
    assert frames[2 * RATE_HZ :, 1].any()


def test_a_play_along_plays_unisons_dynamics_and_what_is_struck_beside_the_drum() -> None:
    """Levels are those of the planned heights: one dynamic to the next is 4 dB (our own scale)."""
    exercise = parse_exercise("1/4: f B Rx Lo Rk p R (L)")
    (made,) = parts_of([Entry(exercise)])
    laid = lay_playalong(PlayalongAsked((made,), Tempo.parse("1/4=60"), repetitions=1))
    assert [(blow.position, blow.sound) for blow in laid.blows] == [
        (0, "drum"), (0, "drum"), (1, "cross"), (2, "rim"), (3, "foot"), (4, "drum"), (5, "drum"),
    ]  # fmt: skip
    assert {blow.hand for blow in laid.blows[:2]} == {"R", "L"}
    levels = {blow.position: blow.level_db for blow in laid.blows}
    assert levels[0] - levels[4] == pytest.approx(12.0, abs=0.1)
    assert levels[5] < levels[4]
    assert playalong_track(laid, RATE_HZ, Mixing()).events


def test_seven_eighths_are_counted_and_clicked_by_their_groups() -> None:
    """At 200 eighths a minute: 0.6, 0.6 and 0.9 s apart, the first note after 2.1 s."""
    asked = PlayalongAsked(
        parts_of([Entry(parse_exercise("2+2+3/8 1/8: RL RL RLR"))]), Tempo.parse("1/8=200"), 2
    )
    laid = lay_playalong(asked)
    bar = [(0.0, "first"), (0.6, "beat"), (1.2, "beat")]
    due = [(2.1 * k + at, kind) for k in range(3) for at, kind in bar]
    assert [float(click.time_s) for click in laid.clicks] == pytest.approx([at for at, _ in due])
    assert [click.kind for click in laid.clicks] == [kind for _, kind in due]
    assert [float(start) for start in laid.parts[0].repetitions] == [7 / 8, 14 / 8]


def test_a_pickup_begins_where_counting_stops() -> None:
    exercise = parse_exercise("4/4 pickup 1/8: RL | RLRR LRLL |")
    laid = lay_playalong(PlayalongAsked(parts_of([Entry(exercise)]), Tempo.parse("1/4=60"), 1, count_in=None))
    assert [(float(c.time_s), c.kind) for c in laid.clicks][:5] == [
        (0, "first"),
        (1, "beat"),
        (2, "beat"),
        (3, "beat"),
        (4, "first"),
    ]
    assert float(min(blow.time_s for blow in laid.blows)) == pytest.approx(3, abs=0.004)
