"""Medians. Oracle: numpy.median."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.arrays import median, medians


@pytest.mark.parametrize("n", [1, 2, 3, 4, 11, 100])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_a_median_is_numpys(n: int, kind: type[np.floating], rng: np.random.Generator) -> None:
    values = np.round(rng.standard_normal((n, 7)), 1).astype(kind)  # rounded: with ties
    np.testing.assert_array_equal(medians(values), np.median(values, axis=0))
    assert medians(values).dtype == kind
    assert median(values[:, 0]) == np.median(values[:, 0])
