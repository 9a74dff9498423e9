"""How fast and how evenly a train goes: what was put in comes out, and intervals hold it."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import Floats
from evenhand.progress.minute.rates import (
    TimedStrokes,
    alternation_ms,
    interval_ms,
    interval_sd_ms,
    level_difference_db,
    rate_over_time,
    second_hand_late_ms,
    tiring,
)
from evenhand.progress.statistics import slope_of


def strokes_at(times: Floats, levels: Floats | None = None) -> TimedStrokes:
    n = len(times)
    heard = np.ones(n, dtype=bool)
    return TimedStrokes(times, np.arange(n), heard, np.full(n, -20.0) if levels is None else levels)


def slowing(rng: np.random.Generator, rate: float, slope: float, *, sd_s: float = 0.002) -> Floats:
    """Play for a minute, the rate changing by ``slope`` strokes a second."""
    times = [0.0]
    while times[-1] < 60:
        step = 1 / (rate + slope * times[-1] / 60)
        times.append(times[-1] + step + sd_s * float(rng.standard_normal()))
    return np.array(times)


def test_an_even_train_has_its_rate_everywhere() -> None:
    at, rate = rate_over_time(strokes_at(1.0 + np.arange(601) / 10))
    assert len(at) == 30
    assert rate == pytest.approx(10.0)
    assert at[0] == pytest.approx(2.0)


def test_alternation_by_hand() -> None:
    """Worked by hand: odd strokes 4 ms late make intervals of 104 and 96 ms; 96 - 104 = -8, late 4."""
    n = np.arange(64)
    strokes = strokes_at(n * 0.1 + 0.004 * (n % 2), np.where(n % 2 == 1, -23.0, -20.0))
    assert alternation_ms(strokes).value == pytest.approx(-8.0)
    assert second_hand_late_ms(strokes).value == pytest.approx(4.0)
    assert level_difference_db(strokes).value == pytest.approx(-3.0)
    assert interval_ms(strokes).value == pytest.approx(100.0, abs=0.2)
    assert interval_sd_ms(strokes).value == pytest.approx(0.0, abs=1e-6)


def test_strokes_that_were_not_heard_tell_no_interval() -> None:
    strokes = strokes_at(np.linspace(0.0, 3.9, 40))
    strokes.heard[::2] = False
    assert interval_ms(strokes).value is None


@pytest.mark.parametrize("hands_s", [0.0, 0.004])
def test_intervals_of_tiring_hold_the_truth(hands_s: float, rng: np.random.Generator) -> None:
    """Of 100 minutes 90 or more: 95 % less two and a half standard errors of the count."""
    held = 0
    for _ in range(100):
        slope = float(rng.uniform(-3, 1))
        times = slowing(rng, 13.0, slope)
        figure = tiring(strokes_at(np.sort(times + hands_s * rng.standard_normal(len(times)))))
        assert figure.ci95 is not None
        held += figure.ci95[0] <= slope <= figure.ci95[1]
    assert held >= 90


def test_a_wandering_rate_widens_the_doubt(rng: np.random.Generator) -> None:
    at = np.arange(30) / 30
    noise = rng.standard_normal(30)
    wander = np.zeros(30)
    for k in range(1, 30):
        wander[k] = 0.9 * wander[k - 1] + noise[k] * np.sqrt(1 - 0.81)
    free, held = slope_of(at, noise), slope_of(at, wander)
    assert free is not None
    assert held is not None
    assert held.ci95[1] - held.ci95[0] > free.ci95[1] - free.ci95[0]


def test_a_straight_line_is_its_slope() -> None:
    slope = slope_of(np.arange(10.0), 3.0 - 2.0 * np.arange(10.0))
    assert slope is not None
    assert slope.value == pytest.approx(-2.0)


def test_few_values_have_no_slope() -> None:
    assert slope_of(np.arange(5.0), np.arange(5.0)) is None
    assert tiring(strokes_at(np.linspace(0.0, 0.9, 10))).value is None
