"""A groove under the pad: laid to the bar in any meter, quiet, and out of the way of the strokes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from evenhand.acts.exercises.tracks import parts_of
from evenhand.music.bars import groups_of
from evenhand.music.book import Entry
from evenhand.music.click_pattern import BarBeats, ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.click import Floats
from evenhand.synthesis.groove import PARTS, groove_places, groove_sound
from evenhand.synthesis.playalong import LaidPlayalong, Mixing, PlayalongAsked, lay_playalong, playalong_track

RATE_HZ = 48_000


def laid(text: str, tempo: str, pattern: str = "") -> LaidPlayalong:
    parts = parts_of([Entry(parse_exercise(text))])
    asked = PlayalongAsked(
        parts, Tempo.parse(tempo), 4, click="off", count_in=1, pattern=ClickPattern.parse(pattern)
    )
    return lay_playalong(asked)


def sound(music: LaidPlayalong, *, groove: bool) -> Floats:
    return np.asarray(
        playalong_track(music, RATE_HZ, Mixing(3.0, groove=groove)).read(0, 10**8)[:, 0], np.float64
    )


@pytest.mark.parametrize("beats", range(1, 20))
def test_a_bar_of_any_beats_is_felt_in_twos_and_threes(beats: int) -> None:
    assert sum(groups_of(beats)) == beats
    assert set(groups_of(beats)) <= {1, 2, 3}


@pytest.mark.parametrize(
    ("bar", "beat", "low", "tone"),
    [
        ("2/4", "1/4", [0], [1]),
        ("3/4", "1/4", [0], [2]),
        ("4/4", "1/4", [0, 2], [1, 3]),
        ("5/4", "1/4", [0, 3], [2, 4]),
        ("6/8", "1/8", [0, 3], [2, 5]),
        ("6/8", "3/8", [0], [1]),
        ("7/8", "1/8", [0, 2, 4], [1, 3, 6]),
    ],
)
def test_the_low_drum_opens_a_group_and_the_tone_answers(
    bar: str, beat: str, low: list[int], tone: list[int]
) -> None:
    places = list(groove_places(BarBeats.even(Fraction(bar), Fraction(beat)), 0.5 / float(Fraction(beat))))
    found = {part: [int(at / Fraction(beat)) for at, what, _ in places if what == part] for part in PARTS}
    assert (found["low"], found["tone"]) == (low, tone)
    assert all(0 <= at < Fraction(bar) for at, *_ in places)


def test_ticks_swing_part_a_dotted_beat_in_three_and_thin_out_when_fast() -> None:
    def ticks(beat: Fraction, beat_s: float, swing: Fraction = Fraction(1, 2)) -> list[Fraction]:
        places = groove_places(BarBeats.even(2 * beat, beat), beat_s / float(beat), swing)
        return [at / beat for at, part, _ in places if part == "tick"]

    third = Fraction(1, 3)
    assert ticks(Fraction(1, 4), 0.5, 2 * third) == [0, 2 * third, 1, 1 + 2 * third]
    assert ticks(Fraction(3, 8), 0.9) == [0, third, 2 * third, 1, 1 + third, 1 + 2 * third]
    assert ticks(Fraction(1, 4), 0.3) == [0, 1]


def test_its_sounds_leave_the_stick_its_place() -> None:
    """A tenth of each one's energy, at most, lies from 1 to 6 kHz, where a stick's attack is."""
    for part in PARTS:
        power = np.abs(np.fft.rfft(groove_sound(part, RATE_HZ), 1 << 15)) ** 2
        hz = np.fft.rfftfreq(1 << 15, 1 / RATE_HZ)
        assert np.sum(power[(hz > 1000) & (hz < 6000)]) / np.sum(power) < 0.1


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("1/16: >RLRR >LRLL", "1/4=80"),
        ("7/8 1/16: >RLRL >RLRL >RLRLRL", "1/8=160"),
        ("6/8 1/8: >RLR >LRL", "3/8=60"),
    ],
)
def test_no_stroke_is_masked(text: str, tempo: str) -> None:
    """In its first 20 ms from 500 to 7000 Hz every stroke, taps too, has twelve decibels over the groove."""
    music = laid(text, tempo)
    alone, both = sound(music, groove=False), sound(music, groove=True)
    groove = both[: len(alone)] - alone[: len(both)]
    hz = np.fft.rfftfreq(960, 1 / RATE_HZ)
    band = (hz > 500) & (hz < 7000)
    for blow in music.blows:
        at = round(float(blow.time_s) * RATE_HZ)
        stroke, under = (
            np.sum(np.abs(np.fft.rfft(each[at : at + 960] * np.hanning(960)))[band] ** 2)
            for each in (alone, groove)
        )
        assert 10 * np.log10(stroke / (under + 1e-12)) > 12


def test_it_sounds_only_where_it_is_played() -> None:
    """A bar to count in and silent bars have none; the third bar is silent: 8 to 12 s at 60."""
    music = laid("1/4: RLRL", "1/4=60", "silent=1:1")
    quiet = replace(music, parts=())
    groove = sound(quiet, groove=True)
    assert not groove[: 4 * RATE_HZ].any()
    assert groove[4 * RATE_HZ : 5 * RATE_HZ].any()
    assert not groove[9 * RATE_HZ : 12 * RATE_HZ].any()
