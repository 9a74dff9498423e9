"""The law of a bouncing stick: what is put in comes out, with doubt where there is reason for it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenhand.progress.bounce.restitution import fit_law
from tests.unit.progress.drops import G_CM, falling


@pytest.mark.parametrize(("height_cm", "kept"), [(20.0, 0.8), (10.0, 0.55), (30.0, 0.9)])
def test_an_exact_drop_gives_its_share_and_its_height(height_cm: float, kept: float) -> None:
    """By construction: blows at the law's own times."""
    fit = fit_law(falling(height_cm, kept, 9), np.arange(9))
    assert fit is not None
    assert fit.restitution().value == pytest.approx(kept, rel=1e-6)
    assert fit.first_height_cm().value == pytest.approx(height_cm, rel=1e-5)
    assert fit.rebound_height_cm().value == pytest.approx(height_cm * kept**2, rel=1e-5)


def test_the_rebound_is_g_t_squared_over_8() -> None:
    """Worked by hand: a flight of 0.3 s goes 980.665 x 0.09 / 8 = 11.03 cm high."""
    fit = fit_law(np.array([0.0, 0.3, 0.54, 0.732]), np.arange(4))
    assert fit is not None
    assert fit.rebound_height_cm().value == pytest.approx(11.0325, rel=1e-3)


def test_a_blow_that_was_not_heard_is_allowed_for() -> None:
    times = falling(20.0, 0.8, 10)
    heard = np.array([0, 1, 2, 4, 5, 6, 8, 9])
    fit = fit_law(times[heard], heard)
    assert fit is not None
    assert fit.restitution().value == pytest.approx(0.8, abs=1e-4)


def test_more_noise_never_narrows_the_interval(rng: np.random.Generator) -> None:
    times, noise = falling(20.0, 0.8, 12), rng.standard_normal(12)
    widths = []
    for size_s in (0.0, 0.5e-3, 2e-3):
        fit = fit_law(times + size_s * noise, np.arange(12))
        assert fit is not None
        low, high = fit.restitution().ci95
        widths.append(high - low)
    assert widths[0] < widths[1] < widths[2]


def test_two_blows_are_too_few() -> None:
    assert fit_law(np.array([0.0, 0.3]), np.arange(2)) is None


def test_blows_at_one_moment_are_no_drop() -> None:
    assert fit_law(np.array([0.0, 0.3, 0.3]), np.arange(3)) is None


def test_the_next_flight_is_foretold() -> None:
    """By construction: flight 7 of an exact drop."""
    times = falling(20.0, 0.8, 8)
    fit = fit_law(times, np.arange(8))
    assert fit is not None
    due, spread = fit.next_log_flight(7)
    assert math.exp(due) == pytest.approx(2 * math.sqrt(2 * 20 / G_CM) * 0.8**8, rel=1e-4)
    assert 0 < spread < 0.2
