"""Finding a click and taking it out, by clicks whose times are known between samples."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from evenhand.hearing.clicks.find import find_click
from evenhand.hearing.clicks.sound import HeardClick, WithoutClick, without_click
from evenhand.hearing.onsets.candidates import find_onsets
from tests.unit.hearing.sounds import RATE_HZ, Array, Floats, bursts, clicks, evenly, floor_of_noise, played

BEAT_S = 0.5004567  # no whole number of samples
EXACT_S = 1e-4


def found_in(
    samples: Array | Floats, beat_s: float | None = BEAT_S, rate_hz: int = RATE_HZ
) -> HeardClick | None:
    take = samples.astype(np.float32)
    _, found = find_onsets(take, rate_hz)
    return find_click(take, rate_hz, found, beat_s)


def sure(click: HeardClick | None) -> HeardClick:
    assert click is not None
    return click


def playing(from_s: float, until_s: float, seed: int = 4, level_db: float = -12.0) -> Array:
    """Give strokes by hand: eighths of the beat, 6 ms of spread, another noise each time."""
    rng = np.random.default_rng(seed)
    at_s = np.arange(from_s, until_s, BEAT_S / 2)
    return bursts(at_s + rng.normal(0, 0.006, len(at_s)), level_db + rng.normal(0, 1, len(at_s)))


def together(*sounds: Array) -> Array:
    out = np.zeros(max(len(sound) for sound in sounds))
    for sound in sounds:
        out[: len(sound)] += sound
    return out


def test_clicks_alone_are_found_where_they_begin() -> None:
    """Within 0.1 ms of each other's places; the constant is where 1 % of the peak is crossed."""
    at_s = evenly(0.3123, BEAT_S, 12)
    click = sure(found_in(together(clicks(at_s, 7.0), floor_of_noise(7.0))))
    assert len(click.times_s) == 12
    off = click.times_s - at_s
    assert np.abs(off - off.mean()).max() < EXACT_S / 5
    assert abs(off.mean()) < EXACT_S
    assert click.beat_s == pytest.approx(BEAT_S, abs=1e-6)


def test_a_click_through_the_playing_is_found_at_every_beat() -> None:
    at_s = evenly(0.3123, BEAT_S, 20)
    count_s = at_s[4]
    click = sure(found_in(together(clicks(at_s, 11.0), playing(count_s, at_s[-1]))))
    assert click.through
    assert click.times_s == pytest.approx(at_s, abs=EXACT_S)


def test_a_count_of_two_is_enough_where_the_click_goes_on_under_the_strokes() -> None:
    at_s = evenly(0.3123, BEAT_S, 16)
    click = sure(found_in(together(clicks(at_s, 9.0), playing(at_s[2], at_s[-1]))))
    assert click.through
    assert click.times_s == pytest.approx(at_s, abs=EXACT_S)


def test_a_stroke_on_top_of_a_click_does_not_change_how_loud_the_click_is() -> None:
    """All clicks are alike by construction."""
    at_s = evenly(0.3123, BEAT_S, 20)
    click = sure(found_in(together(clicks(at_s, 11.0), playing(at_s[4], at_s[-1]))))
    np.testing.assert_allclose(click.gains, 1, atol=0.05)


def test_a_count_in_ends_where_it_ended() -> None:
    at_s = evenly(0.3123, BEAT_S, 4)
    click = sure(found_in(together(clicks(at_s, 3.0), playing(0.3123 + 4 * BEAT_S, 9.0))))
    assert not click.through
    assert click.times_s == pytest.approx(at_s, abs=EXACT_S)


@pytest.mark.parametrize("beats_a_bar", [2, 3, 4, 5])
def test_a_click_with_an_accent_has_two_sounds(beats_a_bar: int) -> None:
    at_s = evenly(0.3123, BEAT_S, 20)
    tone = np.where(np.arange(20) % beats_a_bar == 0, 1500.0, 1000.0)
    click = sure(found_in(together(clicks(at_s, 11.0, tone), playing(at_s[4], at_s[-1]))))
    assert click.times_s == pytest.approx(at_s, abs=2 * EXACT_S)
    accented = click.kinds == click.kinds[0]
    assert accented.tolist() == [k % beats_a_bar == 0 for k in range(20)]


@pytest.mark.parametrize("ratio", [0.88, 1.12])
def test_the_click_may_go_at_another_tempo_than_was_asked(ratio: float) -> None:
    at_s = evenly(0.3123, BEAT_S, 10)
    click = sure(found_in(together(clicks(at_s, 6.0), floor_of_noise(6.0)), ratio * BEAT_S))
    assert click.times_s == pytest.approx(at_s, abs=EXACT_S)


@pytest.mark.parametrize("beat_s", [0.25, 0.5004567, 1.3])
def test_the_click_is_found_where_no_tempo_was_given(beat_s: float) -> None:
    at_s = evenly(0.3123, beat_s, 8)
    end_s = float(at_s[-1]) + 0.5
    click = sure(found_in(together(clicks(at_s, end_s), floor_of_noise(end_s)), None))
    assert click.times_s == pytest.approx(at_s, abs=EXACT_S)


@pytest.mark.parametrize("instrument", ["pad", "snare"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_drum_alone_is_no_click(instrument: str, seed: int) -> None:
    take = played("1/4: R L R L", "1/4=120", 4, seed=seed, instrument=instrument)
    assert found_in(take.samples, 0.5) is None
    assert found_in(take.samples, None) is None


def test_two_sounds_are_no_click() -> None:
    assert found_in(together(clicks(np.array([0.5, 1.0]), 2.0), floor_of_noise(2.0))) is None


@pytest.mark.parametrize("samples", [np.zeros(RATE_HZ), floor_of_noise(2.0, -40)], ids=["silence", "noise"])
def test_nothing_is_no_click(samples: Array) -> None:
    assert found_in(samples, None) is None


@pytest.mark.parametrize("through", [False, True])
@pytest.mark.parametrize("accent", [False, True])
def test_what_is_left_of_a_click_is_less_than_a_quarter(through: bool, accent: bool) -> None:  # noqa: FBT001 - a case
    """The click is known: the take with it, less the take without it, is what was left: under -12 dB."""
    at_s = evenly(0.3123, BEAT_S, 20 if through else 4)
    tone = np.where((np.arange(len(at_s)) % 4 == 0) & accent, 1500.0, 1000.0)
    clean = playing(0.3123 + 4 * BEAT_S, 10.0)
    sound = clicks(at_s, len(clean) / RATE_HZ, tone)
    take = (clean + sound).astype(np.float32)
    click = sure(found_in(take))
    left = without_click(take, RATE_HZ, click)[0 : len(take)] - clean
    for time_s in at_s.tolist():
        around = slice(round((time_s - 0.002) * RATE_HZ), round((time_s + 0.03) * RATE_HZ))
        assert (left[around] ** 2).sum() < 10 ** (-12 / 10) * (sound[around] ** 2).sum()


def test_where_no_click_sounds_nothing_is_taken() -> None:
    at_s = evenly(0.3123, BEAT_S, 4)
    take = together(clicks(at_s, 3.0), playing(0.3123 + 4 * BEAT_S, 6.0)).astype(np.float32)
    cleaned = without_click(take, RATE_HZ, sure(found_in(take)))[0 : len(take)]
    later = round((float(at_s[-1]) + 0.1) * RATE_HZ)
    np.testing.assert_array_equal(cleaned[later:], take[later:])


def test_pieces_of_a_cleaned_take_are_pieces_of_the_whole() -> None:
    """Wherever they are cut: through a click, beside it, empty, over the end."""
    at_s = evenly(0.3123, BEAT_S, 6)
    take = together(clicks(at_s, 4.0), floor_of_noise(4.0)).astype(np.float32)
    lazy = WithoutClick(take, RATE_HZ, sure(found_in(take)))
    whole = lazy[0 : len(take)]
    middle = round(at_s[2] * RATE_HZ)
    edges = [0, 5000, middle - 100, middle + 7, middle + 300, 120_000, len(take) + 50]
    np.testing.assert_array_equal(np.concatenate([lazy[a:b] for a, b in pairwise(edges)]), whole)
    assert len(lazy) == len(take)
    assert lazy[9:9].shape == (0,)


def test_a_click_cut_off_at_either_end_is_taken_out_without_complaint() -> None:
    at_s = evenly(0.5, BEAT_S, 8)
    take = together(clicks(at_s, 5.0), floor_of_noise(5.0)).astype(np.float32)
    click = sure(found_in(take))
    last = float(click.times_s[-1])
    cut = take[round(0.505 * RATE_HZ) : round((last + 0.01) * RATE_HZ)]
    moved = replace(click, times_s=click.times_s - 0.505)
    assert len(without_click(cut, RATE_HZ, moved)[0 : len(cut)]) == len(cut)


def test_clicks_of_the_simulated_player_are_found_within_a_tenth_of_a_millisecond() -> None:
    take = played(repetitions=4, count_in="click", click_db=-6.0, lead_in_s=0.5)
    click = sure(found_in(take.samples, 60 / 110, take.rate_hz))
    assert click.through
    assert click.times_s == pytest.approx(np.array(take.truth.clicks_s), abs=EXACT_S)
