"""Takes are taken together with form on the day in mind."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.measuring.values import Measure
from evenhand.progress.statistics import error_of, log_error_of, pooled


def test_one_take_is_less_sure_than_its_own_interval_says() -> None:
    found = pooled(np.array([3.0]), np.array([0.2]), 0.5)
    low, high = found.ci95
    assert found.value == pytest.approx(3.0)
    assert high - low > 2 * 1.96 * 0.2


def test_takes_that_agree_come_to_their_middle_and_ever_narrower() -> None:
    widths = []
    for n in (2, 4, 16):
        found = pooled(np.full(n, 3.0), np.full(n, 0.2), 0.5)
        low, high = found.ci95
        assert found.value == pytest.approx(3.0)
        widths.append(high - low)
    assert widths == sorted(widths, reverse=True)


def test_the_surer_take_counts_for_more() -> None:
    assert pooled(np.array([0.0, 4.0]), np.array([0.2, 4.0]), 0.5).value < 1.0


@pytest.mark.parametrize("n", [2, 5, 8])
def test_the_interval_holds_a_known_mean(n: int) -> None:
    """Known by construction: form on the day as large as is usual; 400 students, standard error .011."""
    rng = np.random.default_rng(n)
    held = []
    for _ in range(400):
        errors = rng.uniform(0.06, 0.14, n)
        low, high = pooled(rng.normal(0, np.hypot(errors, 0.12)), errors, 0.12).ci95
        held.append(low <= 0 <= high)
    assert 0.93 <= np.mean(held) <= 0.99, f"coverage {np.mean(held):.3f}"


def test_errors_are_read_off_intervals() -> None:
    assert error_of(Measure(0.0, 9, "dB", (-1.96, 1.96))) == pytest.approx(1.0, abs=1e-4)
    assert log_error_of(Measure(1.0, 9, "ms", (np.exp(-1.96), np.exp(1.96)))) == pytest.approx(1.0, abs=1e-4)
    assert error_of(Measure(1.0, 1, "dB")) is None
    assert log_error_of(Measure(0.0, 9, "ms", (0.0, 0.0))) is None
