"""Learning curves whose end, gain and rate are known: published forms, and noise of known size.

The exponential of one learner, y = A + B exp(-a N), and that averaging learners makes what looks like a
power law: Heathcote, Brown & Mewhort 2000, Psychon. Bull. Rev. 7:185-207, doi 10.3758/BF03212979 (read in
its abstract; the forms are from memory, the numbers worked from them). The noise is drawn here; nothing of
the fit makes it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.progress.statistics import fit
from evenhand.progress.trends.learning_curve import learning_curve, plateau

Floats = NDArray[np.float64]
STUDENTS = 200
DESIGNS = (  # days, span, half-life, form on the day, errors
    (20, 40, 8.0, 1.0, 1.0),
    (20, 40, 8.0, 1.0, 0.5),
    (30, 60, 12.0, 1.0, 1.0),
    (14, 40, 8.0, 0.7, 0.7),
)


def exponential(x: Floats, end: float, gain: float, rate: float) -> Floats:
    return np.asarray(end + gain * np.exp(-rate * x))


def practised(rng: np.random.Generator, days: int, span: int) -> Floats:
    """Draw the days on which a student practised, the first and the last among them."""
    inner = rng.choice(np.arange(1, span), days - 2, replace=False)
    return np.sort(np.concatenate([[0, span], inner])).astype(np.float64)


def test_the_worked_curve_is_recovered() -> None:
    """20 + 80 exp(-0.1 N), N = 0..20: 100, at 10 49.430, at 20 30.827; half-life ln 2 / 0.1 = 6.9315."""
    n = np.arange(21.0)
    y = exponential(n, 20, 80, 0.1)
    assert y[[0, 10, 20]] == pytest.approx([100, 49.430, 30.827], abs=1e-3)
    found = learning_curve(n, y, np.zeros(21))
    assert found is not None
    assert found.borne
    assert (found.end, found.gain, found.rate) == pytest.approx((20, 80, 0.1), abs=1e-3)
    assert found.half_life == pytest.approx(6.9315, abs=1e-3)
    assert found.at(n) == pytest.approx(y, abs=1e-3)


def test_days_may_be_counted_from_anywhere() -> None:
    x = np.arange(21.0) + 50
    found = learning_curve(x, exponential(x, 20, 80 * math.exp(5), 0.1), np.zeros(21))
    assert found is not None
    assert (found.end, found.rate) == pytest.approx((20, 0.1), abs=1e-3)
    assert found.gain == pytest.approx(80 * math.exp(5), rel=1e-4)
    assert found.first[0] == pytest.approx(100, abs=1e-3)


def test_intervals_hold_what_is_known() -> None:
    """6 + 10 exp(-x ln 2 / half-life), form on the day and errors of known size, days drawn.

    4 designs of 200 students: a coverage of .95 has a standard error of .008; .93 to .97 is over two of them.
    """
    held: list[list[bool]] = []
    for days, span, half_life, form, error in DESIGNS:
        rng = np.random.default_rng(days + span)
        rate = math.log(2) / half_life
        for _ in range(STUDENTS):
            x = practised(rng, days, span)
            errors = rng.uniform(0.6, 1.4, days) * error
            y = exponential(x, 6, 10, rate) + rng.normal(0, np.hypot(errors, form))
            found = learning_curve(x, y, errors)
            assert found is not None
            now = exponential(x, 6, 10, rate)[-1]
            spans = (
                (found.end_ci95, 6),
                (found.rate_ci95, rate),
                (found.last[1], now),
            )
            held.append([low <= true <= high for (low, high), true in spans])
    coverage = np.mean(held, axis=0)
    assert (coverage >= 0.93).all(), f"coverage of end, rate, last day {coverage}, n {len(held)}"
    assert (coverage <= 0.97).all(), f"coverage of end, rate, last day {coverage}, n {len(held)}"


def test_chance_alone_bears_no_curve_and_a_straight_line_none_either() -> None:
    """At most 1 in 100 by how it is asked; a line has no end that could be told."""
    rng = np.random.default_rng(5)
    borne = {"level": 0, "line": 0}
    for _ in range(STUDENTS):
        x = practised(rng, 18, 42)
        errors, noise = np.full(18, 0.7), rng.normal(0, 1, 18)
        for name, course in (("level", 8.0 + 0 * x), ("line", 16 - 0.2 * x)):
            found = learning_curve(x, course + noise, errors)
            assert found is not None
            borne[name] += found.borne
    assert borne["level"] <= 0.01 * STUDENTS
    assert borne["line"] <= 0.10 * STUDENTS, borne  # a rare bend of chance may look like a slow curve


def test_form_on_the_day_is_not_taken_for_learning() -> None:
    """No change, form on the day five times the errors: the slope is called a change in 5 of 100."""
    rng = np.random.default_rng(6)
    called = 0
    for _ in range(600):
        x = practised(rng, 12, 42)
        y = rng.normal(0, 1, 12)
        _, (low, high) = fit(np.column_stack([np.ones(12), x]), y, np.full(12, 0.2)).at(np.array([0.0, 1.0]))
        called += low > 0 or high < 0
    assert 0.03 <= called / 600 <= 0.07, f"{called} of 600"  # .05, standard error .009


def squares_of_power_law(n: Floats, y: Floats) -> float:
    """Fit A + B (1 + N)^-b by least squares over a grid of b: for this comparison only."""
    left = []
    for b in np.linspace(0.05, 3.0, 60):
        basis = np.column_stack([np.ones(len(n)), (1 + n) ** -b])
        left.append(float(np.sum((y - basis @ np.linalg.lstsq(basis, y, rcond=None)[0]) ** 2)))
    return min(left)


def test_averaging_learners_makes_a_power_law_that_none_of_them_follows() -> None:
    """Exponentials of many rates: each is fitted to rounding, and by no power law; their mean by a power law.

    So the curve is fitted for one student alone, and there is no fit of a power law.
    """
    n = np.arange(40.0)
    rates = np.geomspace(0.02, 0.5, 30)
    learners = [exponential(n, 20, 80, rate) for rate in rates]
    for y, rate in zip(learners[8:22], rates[8:22], strict=True):
        own = learning_curve(n, y, np.zeros(40))
        assert own is not None
        assert own.rate == pytest.approx(rate, rel=1e-3)
        assert np.sum((own.at(n) - y) ** 2) < 1e-3 < squares_of_power_law(n, y)
    mean = np.mean(learners, axis=0)
    averaged = learning_curve(n, mean, np.zeros(40))
    assert averaged is not None
    assert squares_of_power_law(n, mean) < np.sum((averaged.at(n) - mean) ** 2)


@pytest.mark.parametrize(("slope", "most"), [(0.0, 0.02), (-0.1, 0.03), (-0.3, 0.03)])
def test_a_course_without_a_plateau_is_given_none(slope: float, most: float) -> None:
    rng = np.random.default_rng(7)
    found = 0
    for _ in range(STUDENTS):
        x = practised(rng, 18, 42)
        found += plateau(x, slope * x + rng.normal(0, 1, 18), np.full(18, 0.7)) is not None
    assert found <= most * STUDENTS, f"{found} of {STUDENTS}"


def test_a_plateau_is_found_where_it_begins() -> None:
    """Straight to day 20, then level: found in most, about the right day, inside its interval in 9 of 10."""
    rng = np.random.default_rng(8)
    hinges = []
    for _ in range(STUDENTS):
        x = practised(rng, 20, 42)
        hinges.append(plateau(x, -0.3 * np.minimum(x, 20) + rng.normal(0, 1, 20), np.full(20, 0.7)))
    found = [hinge for hinge in hinges if hinge is not None]
    assert len(found) > 0.75 * STUDENTS
    assert float(np.median([hinge.since for hinge in found])) == pytest.approx(20, abs=2)
    assert np.mean([hinge.since_ci95[0] <= 20 <= hinge.since_ci95[1] for hinge in found]) > 0.85
    assert np.mean([hinge.level_ci95[0] <= -6 <= hinge.level_ci95[1] for hinge in found]) > 0.88
