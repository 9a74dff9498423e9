"""A simulated stick bounces by the law, and sounds where its truth says."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from evenhand.synthesis.drops import G_CM_PER_S2, Drop, bounces_of, in_a_row, record_drops
from evenhand.synthesis.instruments import Scene

EXACT = Drop(height_cm=20.0, restitution=0.8, unevenness=0.0, level_sd_db=0.0)


def test_flights_shrink_by_the_share_and_levels_by_20_log_of_it() -> None:
    """Worked by hand: 20 log10 0.8 is -1.938 dB a blow."""
    true = bounces_of(EXACT, 1.0, np.random.default_rng(0))
    flights = np.diff(true.times_s)
    assert flights[1:] / flights[:-1] == pytest.approx(0.8)
    assert np.diff(true.levels_db) == pytest.approx(-1.938, abs=1e-3)
    assert flights[0] == pytest.approx(2 * 0.8 * np.sqrt(2 * 20 / G_CM_PER_S2))


def test_a_held_stick_stops() -> None:
    held = Drop(restitution=0.8, damped_after=4)
    assert len(bounces_of(held, 0.0, np.random.default_rng(0)).times_s) == 4


def test_a_damped_stick_falls_short() -> None:
    damped = Drop(restitution=0.8, unevenness=0.0, damped_after=4, damped_restitution=0.4)
    flights = np.diff(bounces_of(damped, 0.0, np.random.default_rng(0)).times_s)
    assert flights[3] / flights[2] == pytest.approx(0.4)


def test_each_drop_begins_when_the_one_before_rests() -> None:
    rows = in_a_row([EXACT, EXACT, EXACT], np.random.default_rng(1))
    assert all(b.times_s[0] > a.times_s[-1] + 0.5 for a, b in pairwise(rows))


def test_the_same_seed_gives_the_same_recording() -> None:
    one, two = (record_drops([EXACT], Scene(), 4) for _ in range(2))
    assert np.array_equal(one.samples, two.samples)
    assert one.samples.dtype == np.float32
    sounding = one.drops[0].times_s[0] * one.rate_hz
    assert np.abs(one.samples[: round(sounding) - 10]).max() < 1e-6
