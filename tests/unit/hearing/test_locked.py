"""A click under every stroke: its times are known between samples, and no stroke's are the same twice."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.clicks.locked import find_locked
from tests.unit.hearing.sounds import Array, bursts, clicks, evenly

BEAT_S = 0.5004567  # no whole number of samples
AT_S = evenly(0.3123, BEAT_S, 30)


def strokes(spread_s: float, seed: int = 4) -> Array:
    """Give a stroke at every beat, as a hand would: never where the click is, and another noise each time."""
    rng = np.random.default_rng(seed)
    return bursts(AT_S + rng.normal(0, spread_s, len(AT_S)), -10.0 + rng.normal(0, 1, len(AT_S)), seed=seed)


@pytest.mark.parametrize(("peak", "within_s"), [(0.3, 1e-5), (0.1, 2e-5)])
def test_a_click_under_every_stroke_is_found(peak: float, within_s: float) -> None:
    """But for a constant, which the strokes' own rise hides."""
    take = strokes(0.005)
    take += clicks(AT_S, len(take) / 48_000, peak=peak)
    heard = find_locked(take.astype(np.float32), 48_000, BEAT_S * 1.0001)
    assert heard is not None
    assert heard.through
    assert len(heard.times_s) >= 28
    off = heard.times_s - AT_S[np.abs(heard.times_s[:, None] - AT_S).argmin(axis=1)]
    assert np.abs(off - off.mean()).max() < within_s
    assert abs(off.mean()) < 1e-3
    assert heard.beat_s == pytest.approx(BEAT_S, abs=1e-6)


@pytest.mark.parametrize("spread_s", [0.001, 0.005])
def test_strokes_alone_are_no_click_however_even(spread_s: float) -> None:
    for seed in range(5):
        assert find_locked(strokes(spread_s, seed).astype(np.float32), 48_000, BEAT_S) is None


def test_a_drum_that_a_machine_plays_is_no_click() -> None:
    """Strokes exactly on the beat, each the same sound, and others between: nothing would be left of them."""
    take = clicks(AT_S, 16.0, tone_hz=700.0) + clicks(AT_S[:-1] + BEAT_S / 2, 16.0, tone_hz=900.0)
    assert find_locked(take.astype(np.float32), 48_000, BEAT_S) is None


def test_a_count_in_is_no_click_that_goes_through() -> None:
    take = strokes(0.005)
    take += clicks(AT_S[:6], len(take) / 48_000)
    assert find_locked(take.astype(np.float32), 48_000, BEAT_S) is None


@pytest.mark.parametrize("beat_s", [0.5, 20.0])
def test_too_short_a_take_says_nothing(beat_s: float) -> None:
    assert find_locked(np.zeros(48_000, dtype=np.float32), 48_000, beat_s) is None


def test_silence_and_low_rates_are_no_click() -> None:
    assert find_locked(np.zeros(8 * 8_000, dtype=np.float32), 8_000, 0.5) is None
