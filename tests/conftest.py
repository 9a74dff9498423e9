"""What every test may ask for."""

from __future__ import annotations

import os

import numpy as np
import pytest
from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.register_profile("searching", deadline=None, max_examples=1000)
settings.load_profile(os.environ.get("EVENHAND_LAWS", "steady"))


@pytest.fixture
def rng() -> np.random.Generator:
    """Give random numbers that are the same each time."""
    return np.random.default_rng(20_260_101)
