"""Room, noise, talk and the recorder."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.synthesis.instruments import NoiseColour, Room, Scene
from evenhand.synthesis.surroundings import noise, reverberate, ride_gain, talk

RATE_HZ = 48000


def test_a_room_rings_for_its_decay_time() -> None:
    """Backward integration (Schroeder 1965): the fit from -5 to -25 dB gives 60 dB in the decay time."""
    dry = np.zeros(2 * RATE_HZ)
    dry[0] = 1
    tail = reverberate(dry, Room(0.6, 0.0), RATE_HZ, np.random.default_rng(2))[1:]
    left_db = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1] / np.sum(tail**2) + 1e-12)
    fit = (left_db < -5) & (left_db > -25)
    t = np.arange(len(tail)) / RATE_HZ
    slope = np.polyfit(t[fit], left_db[fit], 1)[0]
    assert -60 / slope == pytest.approx(0.6, rel=0.2)


def test_a_room_is_as_loud_as_it_says_and_spares_the_first_instant() -> None:
    dry = np.zeros(RATE_HZ)
    dry[0] = 1
    wet = reverberate(dry, Room(0.4, -12.0), RATE_HZ, np.random.default_rng(2))
    wet[0] -= 1
    assert 10 * np.log10(np.sum(wet**2)) == pytest.approx(-12, abs=0.1)
    assert np.sqrt(np.sum(wet[:120] ** 2)) < 0.05 * np.sqrt(np.sum(wet**2))


def test_overlapping_pieces_of_reverberation_are_one_convolution() -> None:
    """Oracle: numpy.convolve with the same impulse."""
    rng = np.random.default_rng(4)
    dry = rng.standard_normal(100_000)
    impulse = np.zeros(40_000)
    impulse[0] = 1
    room = Room(0.05, -6.0)
    answer = reverberate(impulse, room, 8000, np.random.default_rng(9))
    wet = reverberate(dry, room, 8000, np.random.default_rng(9))
    np.testing.assert_allclose(wet, np.convolve(dry, answer[:1000])[:100_000], atol=1e-9)


@pytest.mark.parametrize(("colour", "slope"), [("white", 0.0), ("pink", -3.01), ("brown", -6.02)])
def test_noise_has_its_colour_and_an_rms_of_one(colour: NoiseColour, slope: float) -> None:
    """DB an octave of power density: white 0, pink -3, brown -6 (definition)."""
    sound = noise(colour, 8 * RATE_HZ, RATE_HZ, np.random.default_rng(1))
    assert np.sqrt(np.mean(sound**2)) == pytest.approx(1)
    power = np.mean(np.abs(np.fft.rfft(sound.reshape(-1, 4800))) ** 2, axis=0)
    bands = [np.mean(power[lo : 2 * lo]) for lo in (20, 40, 80, 160, 320)]  # from 200 Hz, 10 Hz a bin
    measured = np.polyfit(np.arange(5), 10 * np.log10(bands), 1)[0]
    assert measured == pytest.approx(slope, abs=0.4)


def test_hum_has_the_mains_in_it() -> None:
    sound = noise("hum", 4 * RATE_HZ, RATE_HZ, np.random.default_rng(1))
    size = np.abs(np.fft.rfft(sound))
    assert size[200] > 20 * np.median(size[150:250])  # 50 Hz, a quarter of a hertz a bin


def test_talk_comes_in_syllables_and_has_no_sharp_blows() -> None:
    sound = talk(2.4, RATE_HZ, np.random.default_rng(6))
    assert len(sound) == round(2.4 * RATE_HZ)
    assert np.max(np.abs(sound)) == pytest.approx(1)
    level = np.sqrt(np.mean(sound.reshape(-1, 480) ** 2, axis=1))
    assert np.mean(level < 0.02) > 0.03
    assert np.mean(level > 0.05) > 0.4


def test_a_recorder_that_rides_the_gain_lifts_the_soft_parts() -> None:
    t = np.arange(4 * RATE_HZ) / RATE_HZ
    take = np.sin(2 * np.pi * 500 * t) * np.where(t < 1, 1.0, 0.05)
    gain = ride_gain(take, RATE_HZ)
    assert gain[RATE_HZ // 2] == pytest.approx(1, rel=0.05)
    assert gain[-1000] > 3
    assert np.max(np.abs(np.diff(gain))) < 0.01


def test_a_scene_refuses_what_cannot_be() -> None:
    from evenhand.errors import WrongUse

    with pytest.raises(WrongUse, match="rate_hz: got 4000"):
        Scene(rate_hz=4000)
    with pytest.raises(WrongUse, match="must not be negative"):
        Scene(lead_in_s=-1)
