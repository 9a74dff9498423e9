"""When a hit starts and how loud it is. Oracle: scipy's Butterworth highpass on each sound alone."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.hearing.onsets.attack import TimedHits, time_hits
from tests.unit.hearing.sounds import RATE_HZ, Array, bursts, evenly, floor_of_noise


def rough(at_s: Array, rng: np.random.Generator, off_s: float = 0.004) -> Array:
    return np.asarray(at_s + rng.uniform(-off_s, off_s, len(at_s)))


def stroke(seed: int, rate_hz: int = RATE_HZ) -> Array:
    """Give one blow: a rise of a millisecond, two modes and a rattle that die away; 0.1 s, loudest 1."""
    rng = np.random.default_rng(seed)
    t = np.arange(rate_hz // 10) / rate_hz
    body = (
        np.sin(2 * np.pi * 420 * t) + 0.6 * np.sin(2 * np.pi * 1130 * t) + 0.3 * rng.standard_normal(len(t))
    )
    shape = np.minimum(t / 0.001, 1) * np.exp(-t / 0.015)
    return np.asarray(body * shape / np.abs(body * shape).max())


def start_and_level(sound: Array, rate_hz: int = RATE_HZ) -> tuple[float, float]:
    """Apply the definitions: 1 % of the peak above 200 Hz; RMS of the 10 ms from there, dB."""
    above = scipy.signal.sosfilt(scipy.signal.butter(2, 200, "highpass", fs=rate_hz, output="sos"), sound)
    loud = np.abs(above)
    threshold = 0.01 * loud.max()
    i = int(np.argmax(loud >= threshold))
    start = i - 1 + (threshold - loud[i - 1]) / (loud[i] - loud[i - 1]) if i else 0.0
    first = round(float(start))
    rms = np.sqrt((above[first : first + rate_hz // 100] ** 2).mean())
    return float(start / rate_hz), float(20 * np.log10(rms))


def laid(
    at_s: Array, level_db: Array, rate_hz: int = RATE_HZ, floor_db: float = -90
) -> tuple[Array, Array, Array]:
    """Lay strokes on a floor; return the take, and each one's start and level by definition."""
    out = floor_of_noise(float(at_s[-1]) + 0.5, floor_db, rate_hz)
    starts, levels = [], []
    for i, (time_s, level) in enumerate(zip(at_s.tolist(), level_db.tolist(), strict=True)):
        sound = 10 ** (level / 20) * stroke(i, rate_hz)
        first = round(time_s * rate_hz)
        out[first : first + len(sound)] += sound
        after, rms_db = start_and_level(sound, rate_hz)
        starts.append(first / rate_hz + after)
        levels.append(rms_db)
    return out, np.array(starts), np.array(levels)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_times_and_levels_are_those_of_the_definition(rate_hz: int, rng: np.random.Generator) -> None:
    """Loud and soft by 15 dB: a constant under 0.5 ms, scatter under 0.1 ms, level within 1 dB."""
    at_s = evenly(0.3, 0.2, 24)
    take, starts, levels = laid(at_s, np.where(np.arange(24) % 3 == 0, -6.0, -21.0), rate_hz)
    timed = time_hits(take.astype(np.float32), rate_hz, rough(starts, rng))
    off_ms = 1000 * (timed.times_s - starts)
    assert abs(np.median(off_ms)) < 0.5
    assert np.abs(off_ms - np.median(off_ms)).max() < 0.1
    np.testing.assert_allclose(timed.levels_db, levels, atol=1.0)


def test_noise_that_hides_the_start_adds_no_level_and_little_scatter(rng: np.random.Generator) -> None:
    """The soft blows lie 25 dB over the noise: 1 % of their peak cannot be seen."""
    at_s = evenly(0.3, 0.2, 24)
    take, starts, levels = laid(at_s, np.where(np.arange(24) % 3 == 0, -6.0, -16.0), floor_db=-45)
    timed = time_hits(take.astype(np.float32), RATE_HZ, rough(starts, rng))
    off_ms = 1000 * (timed.times_s - starts)
    assert np.median(np.abs(off_ms - np.median(off_ms))) < 0.25
    np.testing.assert_allclose(timed.levels_db, levels, atol=1.5)


def test_bursts_at_full_strength_begin_at_their_sample(rng: np.random.Generator) -> None:
    at_s = np.round((evenly(0.3, 0.15, 30)) * RATE_HZ) / RATE_HZ
    timed = time_hits(bursts(at_s).astype(np.float32), RATE_HZ, rough(at_s, rng))
    assert np.abs(1000 * (timed.times_s - at_s)).max() < 0.1


def test_the_rough_time_matters_not(rng: np.random.Generator) -> None:
    """Found 4 ms early or late, a hit is timed the same."""
    at_s = evenly(0.3, 0.2, 24)
    take, starts, _ = laid(at_s, np.full(24, -10.0))
    one, other = (time_hits(take.astype(np.float32), RATE_HZ, rough(starts, rng)) for _ in range(2))
    np.testing.assert_allclose(one.times_s, other.times_s, atol=5e-5)


@pytest.mark.parametrize("n", [1, 2, 3])
def test_the_fewest_hits_are_timed(n: int, rng: np.random.Generator) -> None:
    """With nothing to learn from; within a millisecond."""
    take, starts, _ = laid(evenly(0.3, 0.2, n), np.full(n, -10.0))
    timed = time_hits(take.astype(np.float32), RATE_HZ, rough(starts, rng, 0.002))
    np.testing.assert_allclose(timed.times_s, starts, atol=1e-3)


def test_no_hits_are_no_hits() -> None:
    timed = time_hits(np.zeros(RATE_HZ, dtype=np.float32), RATE_HZ, np.zeros(0))
    assert timed.times_s.shape == timed.levels_db.shape == (0,)


def test_hits_at_either_edge_of_the_take_stay_finite() -> None:
    take = bursts(np.array([0.0, 0.4])).astype(np.float32)[: round(0.404 * RATE_HZ)]
    timed = time_hits(take, RATE_HZ, np.array([0.0, 0.4, 0.4039]))
    assert np.isfinite(timed.times_s).all()
    assert np.isfinite(timed.levels_db).all()


def test_some_hits_are_picked_and_joined_again(rng: np.random.Generator) -> None:
    at_s = evenly(0.3, 0.2, 8)
    timed = time_hits(bursts(at_s).astype(np.float32), RATE_HZ, rough(at_s, rng))
    again = TimedHits.joined([timed.only(np.arange(3)), timed.only(np.arange(3, 8))])
    np.testing.assert_array_equal(again.times_s, timed.times_s)
    np.testing.assert_array_equal(again.levels_db, timed.levels_db)
