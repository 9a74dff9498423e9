"""What every test may ask for."""

from __future__ import annotations

import numpy as np
import pytest

import tests.depth  # noqa: F401 - loads the profile of the laws


@pytest.fixture
def rng() -> np.random.Generator:
    """Give random numbers that are the same each time."""
    return np.random.default_rng(20_260_101)
