"""Laws of clicks and tempo: whatever is asked for, the grid holds."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from evenhand.music.click_pattern import ClickPattern, Silence
from evenhand.music.exercise import Exercise, Meter, Tempo
from evenhand.synthesis.click import ClickAsked, LaidClick, click_track, lay_click
from evenhand.synthesis.playalong import MOST_TIME_S, Part, PlayalongAsked, lay_playalong
from evenhand.synthesis.pulse import Change, Stretch
from tests.strategies import exercises

BEATS = (Fraction(1, 2), Fraction(1, 4), Fraction(3, 8), Fraction(1, 8), Fraction(1, 12))
tempos = st.builds(Tempo, st.sampled_from(BEATS), st.integers(2000, 40_000).map(lambda cents: cents / 100))


@st.composite
def asked(draw: st.DrawFn) -> ClickAsked:
    """Draw a click whose bars hold whole beats."""
    tempo = draw(tempos)
    bar = draw(st.integers(1, 7)) * tempo.beat
    silence = draw(st.none() | st.builds(Silence, st.integers(2, 3), st.integers(1, 3)))
    changes = st.just(Change()) | st.builds(Change, st.integers(1, 40).map(Fraction), st.integers(1, 3))
    change = draw(changes if silence else changes | st.builds(Change, to=tempos))
    return ClickAsked(
        tempo=tempo,
        meter=Meter(bar.numerator, bar.denominator),
        bars=draw(st.integers(1, 6)),
        count_in=draw(st.integers(0, 2)),
        change=change,
        pattern=ClickPattern(between=draw(st.integers(1, 4)), accent=draw(st.booleans()), silence=silence),
    )


def beats(laid: LaidClick, between: int) -> int:
    heard = (bar for bar in laid.bars if bar.kind != "silent")
    return sum(int(bar.length / laid.beat) * (between if bar.kind == "played" else 1) for bar in heard)


@given(asked())
def test_clicks_rise_stay_in_the_music_and_are_all_there(wanted: ClickAsked) -> None:
    laid = lay_click(wanted)
    times = [click.time_s for click in laid.clicks]
    assert all(a < b for a, b in pairwise(times))
    assert all(0 <= time_s < laid.tempo_map.seconds for time_s in times)
    assert len(times) == beats(laid, wanted.pattern.between)


@given(asked(), st.sampled_from((44_100, 48_000, 96_000)))
def test_no_click_is_more_than_half_a_sample_off_its_time(wanted: ClickAsked, rate_hz: int) -> None:
    laid = lay_click(wanted)
    track = click_track(laid, rate_hz)
    for click, event in zip(laid.clicks, track.events, strict=True):
        assert abs(event.sample - click.time_s * rate_hz) <= Fraction(1, 2)


@given(asked(), st.integers(0, 60))
def test_a_lead_in_moves_everything_and_changes_nothing(wanted: ClickAsked, tenths: int) -> None:
    laid = lay_click(wanted)
    now, later = click_track(laid, 48_000), click_track(laid, 48_000, lead_in_s=Fraction(tenths, 10))
    assert [e.sample + tenths * 4800 for e in now.events] == [e.sample for e in later.events]
    assert later.frames == now.frames + tenths * 4800


@given(asked(), st.integers(1, 40_000))
def test_any_piece_of_a_track_is_the_piece_of_the_whole(wanted: ClickAsked, start: int) -> None:
    track = click_track(lay_click(wanted), 44_100)
    whole = track.read(0, min(track.frames, 60_000))
    np.testing.assert_array_equal(
        track.read(start, start + 5000), whole[start : start + 5000][: track.frames]
    )


@given(tempos, tempos, st.integers(1, 400), st.integers(0, 100))
def test_a_tempo_that_changes_evenly_is_a_straight_line_in_time(
    begin: Tempo, end: Tempo, beats: int, percent: int
) -> None:
    """Of its own definition: at a share of the time, the tempo is at that share of the way."""
    stretch = Stretch(beats * begin.beat, begin.beat, Fraction(begin.bpm), Fraction(end.bpm))
    at = stretch.length * percent / 100
    share = float(stretch.time_s(at) / stretch.seconds)
    np.testing.assert_allclose(float(stretch.bpm(at)), begin.bpm + share * (end.bpm - begin.bpm), rtol=1e-12)


@given(tempos, tempos, st.integers(1, 400))
def test_up_lasts_as_long_as_down(begin: Tempo, end: Tempo, beats: int) -> None:
    length = beats * begin.beat
    up = Stretch(length, begin.beat, Fraction(begin.bpm), Fraction(end.bpm))
    down = Stretch(length, begin.beat, Fraction(end.bpm), Fraction(begin.bpm))
    assert up.seconds == down.seconds


@given(st.lists(exercises(max_runs=2, max_run=4), min_size=1, max_size=3), tempos, st.integers(1, 3))
def test_a_play_along_plays_every_note_within_three_ms_of_when_it_is_written(
    written: list[Exercise], tempo: Tempo, repetitions: int
) -> None:
    """Where a meter does not hold whole beats it is left out: that is refused elsewhere."""
    plain = [replace(e, meter=None, bar_lines=()) for e in written]
    parts = []
    for e in plain:
        levels: dict[tuple[int, int | None], float] = {(p, None): 0.0 for p in e.struck}
        levels |= {(p, k): -9.0 for p in e.struck for k in range(len(e.notes[p].graces))}
        parts.append(Part(e, levels))
    laid = lay_playalong(PlayalongAsked(tuple(parts), tempo, repetitions))
    whole_s = Fraction(60) / Fraction(tempo.bpm).limit_denominator(10**6) / tempo.beat
    for number, part in enumerate(laid.parts):
        mains = {
            (b.repetition, b.position): b.time_s
            for b in reversed(laid.blows)  # a buzz's first blow is its note
            if b.part == number and not b.grace
        }
        begin = laid.tempo_map.time_s(part.repetitions[0])
        e = part.part.exercise
        due = {
            (r + 1, p): begin + (r * e.length + e.starts[p]) * whole_s
            for r in range(repetitions)
            for p in e.struck
        }
        assert mains.keys() == due.keys()
        assert all(abs(mains[key] - time_s) <= MOST_TIME_S for key, time_s in due.items())
