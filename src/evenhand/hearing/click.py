"""A click that was heard, as a value.

Conventions: times in seconds from the first sample; gains relative to the mean sound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Floats, Indices, Singles


@dataclass(frozen=True, slots=True)
class HeardClick:
    """A click that was heard.

    ``times_s`` (n_clicks,); ``kinds`` (n_clicks,) which of its sounds; ``sounds`` the mean
    sound of each kind as recorded, shape (n_kinds, length), each from ``CUT_BEFORE_S``
    before its mark, which lies ``begins_s`` before the click's time; the beat as a line:
    click k of the grid at ``first_s + k * beat_s``. ``through`` says that it sounds
    through the playing, and not before it only.
    """

    times_s: Floats
    gains: Floats
    kinds: Indices
    sounds: Singles
    begins_s: float
    first_s: float
    beat_s: float
    level_db: float
    through: bool = False

    @property
    def beats(self) -> Indices:
        """The number of each click on its grid, rising, shape (n_clicks,)."""
        return np.round((self.times_s - self.first_s) / self.beat_s).astype(np.intp)
