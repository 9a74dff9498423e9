"""Pieces of sound moved by fractions of a sample, and averaged. Oracle of the filter: scipy.signal."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.hearing.clicks.sound import (
    CUT_BEFORE_S,
    Cutter,
    as_recorded,
    begins_s,
    match,
    mean_sound,
    shifted,
)
from evenhand.hearing.onsets.bands import peak_between
from tests.unit.hearing.sounds import RATE_HZ, Array, clicks, evenly, floor_of_noise

AT_S = evenly(0.3, 0.2001234, 6)


def highpassed(samples: Array) -> Array:
    sos = scipy.signal.butter(2, 400, "highpass", fs=RATE_HZ, output="sos")
    return np.asarray(scipy.signal.sosfilt(sos, samples))


def test_a_parabolas_peak_lies_where_it_lies() -> None:
    """By hand: 5 - (x - 2.3)² peaks 0.3 after column 2, 3 - (x - 3.8)² 0.2 before column 4."""
    x = np.arange(7)
    value = np.array([5 - (x - 2.3) ** 2, 3 - (x - 3.8) ** 2])
    np.testing.assert_allclose(peak_between(value, value.argmax(axis=1)), [0.3, -0.2])


def test_a_peak_at_the_edge_stays_there() -> None:
    assert peak_between(np.array([[9.0, 4.0, 1.0]]), np.array([0])).tolist() == [0]


@pytest.mark.parametrize("by", [0.0, 0.25, -1.6])
def test_a_row_is_read_from_between_its_samples(by: float) -> None:
    """A tone that fits the row a whole number of times, read from a place between."""
    phase = 2 * np.pi * 5 * np.arange(200) / 200
    moved = shifted(np.sin(phase).astype(np.float32)[None], np.array([by]), 120)[0]
    np.testing.assert_allclose(moved, np.sin(2 * np.pi * 5 * (np.arange(120) + by) / 200), atol=1e-5)


def test_pieces_are_cut_as_the_whole_take_highpassed_would_be() -> None:
    """The filter's memory before the piece is short; -40 dB of what there is."""
    take = clicks(AT_S, 2.0)
    pieces, first = Cutter(take.astype(np.float32), RATE_HZ).at(AT_S - 0.001, 0.02)
    whole = highpassed(take)
    for piece, begin in zip(pieces, first.tolist(), strict=True):
        np.testing.assert_allclose(piece, whole[begin : begin + len(piece)], atol=0.003)
    np.testing.assert_array_equal(first, np.round((AT_S - 0.001) * RATE_HZ))


def test_the_mean_of_the_same_sound_is_that_sound() -> None:
    """Begun between samples six times: the mean stands as if each had begun at its mark."""
    take = clicks(AT_S, 2.0) + floor_of_noise(2.0, -70)
    mean = mean_sound(Cutter(take.astype(np.float32), RATE_HZ), AT_S)
    alone = highpassed(clicks(np.array([0.1 + CUT_BEFORE_S]), 1.0))[round(0.1 * RATE_HZ) :][: len(mean)]
    assert ((mean - alone) ** 2).sum() < 0.01 * (alone**2).sum()


def test_what_differs_each_time_is_kept_out_of_the_mean(rng: np.random.Generator) -> None:
    """A plain mean of six would leave it at one over the root of six; less than half of that is left."""
    take = clicks(AT_S, 2.0)
    late = np.round((AT_S + 0.035) * RATE_HZ).astype(int)
    for begin in late.tolist():
        take[begin : begin + 500] += 0.2 * rng.standard_normal(500)
    mean = mean_sound(Cutter(take.astype(np.float32), RATE_HZ), AT_S)
    quiet = mean[round(0.040 * RATE_HZ) : round(0.045 * RATE_HZ)]
    assert np.sqrt((quiet**2).mean()) < 0.5 * 0.2 / np.sqrt(6)


def test_a_sound_begins_where_one_percent_of_its_peak_is_crossed() -> None:
    """By hand: silence, then a ramp to 1 over 100 samples from 1 ms after the mark on."""
    mark, begin = round(CUT_BEFORE_S * RATE_HZ), round(0.001 * RATE_HZ)
    sound = np.zeros(1000, dtype=np.float32)
    sound[mark + begin : mark + begin + 100] = np.arange(100) / 99
    assert begins_s(sound, RATE_HZ) == pytest.approx(0.001, abs=1.5 / RATE_HZ)


def test_undoing_the_highpass_gives_the_sound_as_recorded() -> None:
    alone = clicks(np.array([0.01]), 0.06)
    back = as_recorded(highpassed(alone).astype(np.float32), RATE_HZ)
    assert ((back - alone) ** 2).sum() < 0.02 * (alone**2).sum()


def test_a_sound_is_matched_where_and_as_loud_as_it_is() -> None:
    """0.2 ms off its due time, and half as loud every other time."""
    loud = np.where(np.arange(6) % 2, 0.5, 1.0)
    take = sum((gain * clicks(AT_S[i : i + 1], 2.0) for i, gain in enumerate(loud)), floor_of_noise(2.0, -90))
    cut = Cutter(np.asarray(take, dtype=np.float32), RATE_HZ)
    sound = mean_sound(cut, AT_S[::2])
    times, gains, kinds, fits = match(cut, AT_S + 2e-4, sound[None, :])
    np.testing.assert_allclose(times, AT_S, atol=1e-5)
    np.testing.assert_allclose(gains, loud, rtol=0.02)
    assert fits.all()
    assert not kinds.any()


def test_where_nothing_sounds_nothing_fits() -> None:
    take = clicks(AT_S, 3.0) + floor_of_noise(3.0, -60)
    cut = Cutter(take.astype(np.float32), RATE_HZ)
    _, gains, _, _ = match(cut, AT_S + 1.6, mean_sound(cut, AT_S)[None, :])
    assert np.abs(gains).max() < 0.05
