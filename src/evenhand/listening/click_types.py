"""A click that was heard, as a value.

Conventions: times in seconds from the first sample; gains relative to the mean sound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class HeardClick:
    """A click that was heard. ``times_s`` (n_clicks,); ``kinds`` (n_clicks,) which of its
    sounds; ``sounds`` the mean sound of each kind, highpassed, shape (n_kinds, length);
    the beat as a line: click k of the grid at ``first_s + k * beat_s``.
    """

    times_s: Array
    gains: Array
    kinds: NDArray[np.intp]
    sounds: Floats
    begins_s: float
    first_s: float
    beat_s: float
    level_db: float
    through: bool = False
