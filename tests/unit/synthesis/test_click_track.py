"""A click's samples: on the grid, in the right ear, of the right sound."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from evenhand.music.click_pattern import ClickKind, ClickPattern
from evenhand.music.exercise import Tempo
from evenhand.synthesis.click import (
    TONES_HZ,
    ClickAsked,
    Track,
    TrackEvent,
    click_track,
    click_voice,
    lay_click,
    voiced,
)
from evenhand.synthesis.pulse import parse_meter

KINDS: tuple[ClickKind, ...] = ("first", "beat", "between")


def asked(tempo: str = "1/4=97", bars: int = 2, **more: Any) -> ClickAsked:
    return ClickAsked(Tempo.parse(tempo), parse_meter("4/4"), bars, **more)


def first_samples(samples: np.ndarray[tuple[int], np.dtype[np.float32]], quiet: int) -> list[int]:
    """Find where sound begins after so many samples of silence, without asking the track."""
    sounding = np.flatnonzero(samples)
    return [int(sounding[0]), *sounding[1:][np.diff(sounding) > quiet].tolist()]


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_every_click_of_ten_minutes_stands_on_the_sample_nearest_to_its_time(rate_hz: int) -> None:
    """Beat k of 97 a minute is due at 60k/97 s: nothing adds up."""
    track = click_track(lay_click(asked(bars=242, count_in=1)), rate_hz)
    found = first_samples(track.read(0, track.frames)[:, 0], rate_hz // 20)
    assert len(found) == 243 * 4
    off = [at - Fraction(60 * k * rate_hz, 97) for k, at in enumerate(found)]
    assert max(map(abs, off)) <= Fraction(1, 2)
    assert track.frames == round(Fraction(60 * 243 * 4 * rate_hz, 97))


def test_the_first_click_is_the_first_sample_unless_a_lead_in_is_asked_for() -> None:
    laid = lay_click(asked())
    assert click_track(laid, 48_000).read(0, 1)[0, 0] != 0
    late = click_track(laid, 48_000, lead_in_s=Fraction("1.5"))
    assert not late.read(0, 72_000).any()
    assert late.read(72_000, 72_001)[0, 0] != 0


def test_silent_bars_are_silent() -> None:
    """At 60 a bar lasts 4 s; after one to count in, bars 3 and 4 of the rest are silent: 12 to 20 s."""
    track = click_track(lay_click(asked("1/4=60", 5, pattern=ClickPattern.parse("silent=2:2"))), 44_100)
    assert track.seconds == 24
    assert not track.read(12 * 44_100, 20 * 44_100).any()
    assert track.read(20 * 44_100, 21 * 44_100).any()


def test_a_click_in_one_ear_leaves_the_other_free() -> None:
    left = click_track(lay_click(asked()), 48_000, ear="left").read(0, 96_000)
    right = click_track(lay_click(asked()), 48_000, ear="right").read(0, 96_000)
    both = click_track(lay_click(asked()), 48_000).read(0, 96_000)
    assert left.shape == right.shape == (96_000, 2)
    assert not left[:, 1].any()
    assert not right[:, 0].any()
    np.testing.assert_array_equal(left[:, 0], both[:, 0])


def test_a_track_reads_the_same_in_any_blocks() -> None:
    track = click_track(lay_click(asked(count_in=0, pattern=ClickPattern(between=4))), 48_000)
    pieces = np.concatenate(list(track.blocks(997)))
    np.testing.assert_array_equal(pieces, track.read(0, track.frames))


def test_sounds_that_overlap_add_up_and_those_before_the_start_are_cut() -> None:
    voice = voiced(np.array([1.0, 2.0, 3.0]), start=1)
    track = Track((voice,), (TrackEvent(0, 0), TrackEvent(2, 0)), 5, 10, gain=0.5)
    np.testing.assert_array_equal(track.read(0, 9)[:, 0], [1.0, 2.0, 1.0, 1.5, 0.0])


@pytest.mark.parametrize("kind", KINDS)
def test_a_click_sounds_at_its_own_tones_and_over_the_drum(kind: ClickKind) -> None:
    power = np.abs(np.fft.rfft(click_voice(kind, 48_000), 48_000)) ** 2
    hz = np.arange(len(power))
    tops = [int(np.argmax(np.where(np.abs(hz - tone) < 300, power, 0))) for tone in TONES_HZ[kind]]
    np.testing.assert_allclose(tops, TONES_HZ[kind], atol=15)
    assert power[:1500].sum() < 0.05 * power.sum()


def test_clicks_cannot_be_taken_for_each_other() -> None:
    """Within 0.6 ms either way, where a click is looked for, no kind explains a tenth of another's energy."""
    for one, other in combinations(KINDS, 2):
        a, b = (click_voice(k, 48_000)[:576] for k in (one, other))
        alike = np.correlate(np.pad(a, 29), b, "valid") / np.sqrt((a @ a) * (b @ b))
        assert np.max(alike**2) < 0.1


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_a_click_sounds_from_its_first_sample_on_and_ends_in_silence(kind: ClickKind, rate_hz: int) -> None:
    sound = click_voice(kind, rate_hz)
    assert sound[0] != 0
    assert np.argmax(np.abs(sound) > 0.01 * np.max(np.abs(sound))) < 0.0001 * rate_hz
    assert abs(sound[-1]) < 1e-6
    assert np.max(np.abs(sound)) == pytest.approx(0.501 if kind == "between" else 1, abs=1e-3)
