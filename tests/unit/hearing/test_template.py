"""Where hits start by the take's own attack. Oracle: sounds laid at known times, alike but for level."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.hearing.onsets.attack import time_hits
from evenhand.hearing.onsets.bands import lowpass_response
from tests.unit.hearing.sounds import RATE_HZ, Array, evenly, floor_of_noise

LEVELS_DB = np.where(np.arange(36) % 3 == 0, -6.0, -26.0)


def blow(seconds: float = 0.12) -> Array:
    """Give a slow rise of two milliseconds to a body that dies away."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    rattle = np.random.default_rng(3).standard_normal(len(t))
    body = np.sin(2 * np.pi * 320 * t) + 0.6 * np.sin(2 * np.pi * 1730 * t) + 0.4 * rattle
    return np.asarray(body * np.minimum(t / 0.002, 1) ** 2 * np.exp(-t / 0.02))


def laid(at_s: Array, level_db: Array, floor_db: float = -80.0) -> Array:
    """Lay blows that differ in level only on a floor of noise."""
    out = floor_of_noise(float(at_s[-1]) + 0.5, floor_db, RATE_HZ)
    for time_s, level in zip(at_s.tolist(), level_db.tolist(), strict=True):
        first = round(time_s * RATE_HZ)
        sound = 10 ** (level / 20) * blow()
        out[first : first + len(sound)] += sound
    return out


def off_ms(take: Array, at_s: Array, rng: np.random.Generator) -> Array:
    """Return how far each blow is timed from where it was laid, the median taken off."""
    rough = at_s + rng.uniform(-0.004, 0.004, len(at_s))
    off = 1000 * (time_hits(take.astype(np.float32), RATE_HZ, rough).times_s - at_s)
    return np.asarray(off - np.median(off))


def grid(n: int) -> Array:
    return np.round(evenly(0.3, 0.21, n) * RATE_HZ) / RATE_HZ


@pytest.mark.parametrize("floor_db", [-90.0, -60.0])
def test_a_soft_hit_is_no_later_than_a_loud_one(floor_db: float, rng: np.random.Generator) -> None:
    """20 dB apart; the noise hides the foot of the soft ones."""
    off = off_ms(laid(grid(36), LEVELS_DB, floor_db), grid(36), rng)
    assert abs(np.median(off[LEVELS_DB < -20]) - np.median(off[LEVELS_DB > -20])) < 0.06
    assert np.quantile(np.abs(off), 0.9) < 0.15


def test_two_microphones_hear_the_same_moment(rng: np.random.Generator) -> None:
    """One filter takes the highs away, another the lows: a constant apart, and little else."""
    at_s = grid(36)
    take = laid(at_s, rng.uniform(-20, -6, 36))
    low = scipy.signal.butter(2, 1500, "low", fs=RATE_HZ, output="sos")
    high = scipy.signal.butter(2, 900, "high", fs=RATE_HZ, output="sos")
    near, far = (off_ms(scipy.signal.sosfilt(filt, take), at_s, rng) for filt in (low, high))
    apart = near - far
    assert 1.4826 * np.median(np.abs(apart - np.median(apart))) < 0.03


def test_a_faint_sound_ahead_of_a_hit_is_not_its_start(rng: np.random.Generator) -> None:
    """What is left of a click, 35 dB under the hit and 6 ms ahead of every other one."""
    at_s = grid(36)
    take = laid(at_s, np.full(36, -6.0), -100.0)
    for time_s in at_s[::2].tolist():
        first = round((time_s - 0.006) * RATE_HZ)
        take[first : first + 96] += 10 ** (-41 / 20) * np.sin(2 * np.pi * 3000 * np.arange(96) / RATE_HZ)
    assert np.abs(off_ms(take, at_s, rng)).max() < 0.1


def test_a_louder_hit_close_behind_does_not_draw_a_grace_note_to_it(rng: np.random.Generator) -> None:
    main = grid(24)
    at_s = np.sort(np.concatenate([main, np.round((main - 0.018) * RATE_HZ) / RATE_HZ]))
    level_db = np.tile([-22.0, -6.0], 24)
    off = off_ms(laid(at_s, level_db), at_s, rng)
    assert np.abs(off).max() < 0.3


def test_the_lowpass_is_scipys() -> None:
    b, a = scipy.signal.butter(2, 2200, fs=RATE_HZ)
    _, wanted = scipy.signal.freqz(b, a, worN=np.arange(513) / 1024 * 2 * np.pi)
    np.testing.assert_allclose(lowpass_response(1024, RATE_HZ, 2200), wanted, atol=1e-5)
    np.testing.assert_array_equal(lowpass_response(64, 16_000, 16_000), np.ones(33))


def test_a_hit_that_is_named_twice_is_timed_once() -> None:
    at_s = grid(12)
    take = laid(at_s, np.full(12, -6.0)).astype(np.float32)
    twice = time_hits(take, RATE_HZ, np.sort(np.append(at_s, at_s[5] + 0.001))).times_s
    once = time_hits(take, RATE_HZ, at_s).times_s
    np.testing.assert_allclose(twice[5:7], once[5], atol=2e-4)
