"""The middle of a mixture: beside scipy's curves, and by what a mixture must do."""

from __future__ import annotations

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.progress.statistics import middle_95, quantiles, t_975


@pytest.mark.parametrize("dof", [1.0, 1.5, 2.0, 3.0, 6.0, 25.0, 400.0])
def test_one_curve_is_students(dof: float) -> None:
    """scipy.stats.t; tolerance 0.1 %, the grid's own."""
    assert t_975(dof) == pytest.approx(scipy.stats.t.ppf(0.975, dof), rel=1e-3)


def test_two_curves_far_apart_hold_their_own_shares() -> None:
    """A quarter lies in the left curve, three quarters in the right: the 25 % point lies between them."""
    (quarter,) = quantiles(np.array([0.0, 100.0]), np.ones(2), np.array([1.0, 3.0]), (0.25,))
    assert 3 < quarter < 97


def test_a_mixture_agrees_with_draws_from_it(rng: np.random.Generator) -> None:
    """Against 400,000 draws; tolerance 0.02, some four standard errors of the drawn point."""
    centre, scale, weight = np.array([0.0, 1.0]), np.array([1.0, 3.0]), np.array([0.6, 0.4])
    which = rng.random(400_000) < weight[1]
    drawn = np.where(which, 1 + 3 * rng.standard_normal(400_000), rng.standard_normal(400_000))
    low, high = middle_95(centre, scale, weight)
    assert np.mean(drawn < low) == pytest.approx(0.025, abs=0.002)
    assert np.mean(drawn < high) == pytest.approx(0.975, abs=0.002)
