"""Energies in bands, by signals whose energy is known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.onsets.bands import BANDS_HZ, FRAME_HZ, band_energies, usable_bands

RATES = [8000, 11_025, 22_050, 44_100, 48_000, 96_000]


def test_bands_end_where_the_take_does() -> None:
    """By hand: at 8 kHz nothing sounds above 4 kHz, at 16 kHz nothing above 8."""
    assert usable_bands(8000) == ((100, 300), (300, 1000), (1000, 2200), (2200, 4000))
    assert usable_bands(16_000)[-1] == (5000, 8000)
    assert usable_bands(48_000) == BANDS_HZ


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("samples", [0, 1, 37, 5000])
def test_there_is_a_frame_for_every_half_millisecond_begun(rate_hz: int, samples: int) -> None:
    energies = band_energies(np.zeros(samples, dtype=np.float32), rate_hz)
    assert energies.shape == (len(usable_bands(rate_hz)), np.ceil(samples * FRAME_HZ / rate_hz))
    assert not energies.any()


@pytest.mark.parametrize("rate_hz", RATES)
def test_an_impulse_is_centred_on_its_own_frame(rate_hz: int) -> None:
    """At 0.5 s, and across the border of two blocks: half its energy lies to either side."""
    for at_s in (0.5, 1.0, 2.0):
        samples = np.zeros(3 * rate_hz, dtype=np.float32)
        samples[round(at_s * rate_hz)] = 1.0
        energies = band_energies(samples, rate_hz).astype(np.float64)
        centre = (energies * np.arange(energies.shape[1])).sum(axis=1) / energies.sum(axis=1)
        np.testing.assert_allclose(centre, at_s * FRAME_HZ, atol=0.5 * FRAME_HZ / rate_hz + 0.3)
        assert (abs(energies[1:].argmax(axis=1) - at_s * FRAME_HZ) <= 1).all()


def test_a_tone_has_its_mean_square_in_its_own_band_only() -> None:
    """A sine of height A has mean square A²/2."""
    time_s = np.arange(3 * 48_000) / 48_000
    for band, hz in enumerate((180, 600, 1500, 3300, 8000)):
        energies = band_energies(0.5 * np.sin(2 * np.pi * hz * time_s), 48_000)[:, 200:-200]
        usual = energies.mean(axis=1)
        assert usual[band] == pytest.approx(0.125, rel=0.01)
        assert np.delete(usual, band).max() < 1e-4


def test_blocks_leave_no_seam() -> None:
    """A steady tone is steady over the borders of blocks."""
    tone = np.sin(2 * np.pi * 1500 * np.arange(5 * 44_100) / 44_100)
    energy = band_energies(tone, 44_100)[2, 200:-200]
    assert np.ptp(energy) < 0.01 * energy.mean()


def test_energy_follows_the_square_of_the_gain(rng: np.random.Generator) -> None:
    noise = rng.standard_normal(20_000).astype(np.float32)
    np.testing.assert_allclose(
        band_energies(3 * noise, 48_000), 9 * band_energies(noise, 48_000), rtol=1e-3, atol=1e-6
    )


def test_white_noise_has_energy_by_the_width_of_a_band(rng: np.random.Generator) -> None:
    """Of variance 1 up to 24 kHz, a band of width B holds B / 24000, its soft edges about symmetric."""
    energies = band_energies(rng.standard_normal(10 * 48_000), 48_000).mean(axis=1)
    widths = np.array([high - low for low, high in BANDS_HZ]) / 24_000
    np.testing.assert_allclose(energies, widths, rtol=0.12)


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_recording_that_begins_or_ends_in_sound_does_not_jump_there(rate_hz: int) -> None:
    """A constant has no energy in any band, at the ends neither; a tone's ends are like its middle."""
    n = round(2.3 * rate_hz)
    assert band_energies(np.full(n, 0.3, dtype=np.float32), rate_hz).max() < 1e-12
    tone = band_energies(np.cos(2 * np.pi * 600 * np.arange(n) / rate_hz), rate_hz)[1]
    assert tone.max() < 1.6 * np.median(tone)
