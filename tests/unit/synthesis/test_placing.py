"""Strokes stand where they belong, to parts of a sample."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.synthesis.click import burst
from evenhand.synthesis.instruments import DRUMS
from evenhand.synthesis.strokes import LEAD, split, synthesise
from evenhand.synthesis.voice import add, place


@pytest.mark.parametrize("rate_hz", [8000, 44100, 48000, 96000])
def test_times_and_levels_are_met(rate_hz: int) -> None:
    """Find starts to a tenth of a sample or so, as far as straight lines between samples go.

    A ripple that just touches the threshold and falls between two samples moves a start,
    rarely, by some samples. The truth says where it then is.
    """
    rng = np.random.default_rng(3)
    rows = synthesise(DRUMS["pad"], rng.uniform(0.2, 1, 50), rng.random(50) < 0.5, rate_hz, rng)
    time_s, level_db = np.sort(rng.uniform(0.5, 9, 50)), rng.uniform(-40, -10, 50)
    placed = place(rows, time_s, level_db, rate_hz)
    np.testing.assert_allclose(placed.time_s, time_s, atol=10 / rate_hz)
    assert np.median(np.abs(placed.time_s - time_s)) < 0.15 / rate_hz
    np.testing.assert_allclose(placed.level_db, level_db, atol=1e-9)


def test_a_click_is_the_same_wherever_it_stands() -> None:
    """Shifted by half a sample and back, a click is what it was."""
    rows = split(np.tile(burst(48000), (2, 1)), LEAD + 1440)
    placed = place(rows, np.array([0.1, 0.1 + 0.5 / 48000]), np.zeros(2), 48000)
    assert placed.time_s[1] - placed.time_s[0] == pytest.approx(0.5 / 48000, abs=0.1 / 48000)
    np.testing.assert_allclose(placed.peaks[0], placed.peaks[1], rtol=0.01)


def test_what_falls_outside_the_take_is_cut_off() -> None:
    rows = split(np.ones((2, 10)), 10)
    placed = place(rows, np.array([-1e-4, 1.0]), np.zeros(2), 48000)
    mix = np.zeros(4)
    add(mix, placed)
    assert np.all(np.isfinite(mix))
    assert np.any(mix != 0)
