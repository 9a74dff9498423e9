"""Take a click's sound out of the take.

Conventions: ``samples`` shape (n,), full scale 1.0; a take on disk is cleaned piece by
piece as it is read.
"""

from __future__ import annotations

import numpy as np

from evenhand.listening.click_sound import CUT_BEFORE_S, shifted
from evenhand.listening.click_types import Floats, HeardClick
from evenhand.listening.cutting import Samples


def without_click(samples: Samples, rate_hz: int, click: HeardClick) -> Samples:
    """Return the take with the click's sound taken out wherever it was heard."""
    lazy = WithoutClick(samples, rate_hz, click)
    return lazy[0 : len(samples)] if isinstance(samples, np.ndarray) else lazy


class WithoutClick:
    """Samples that have the click taken out as they are read."""

    def __init__(self, samples: Samples, rate_hz: int, click: HeardClick) -> None:
        self._samples, self._click = samples, click
        self._places = (click.times_s - click.begins_s - CUT_BEFORE_S) * rate_hz
        length = click.sounds.shape[1]
        fade = np.ones(length, dtype=np.float32)
        fade[-(length // 4) :] = np.linspace(1, 0, length // 4)
        self._sounds = np.pad(click.sounds * fade, ((0, 0), (2, 2)))

    def __len__(self) -> int:
        return len(self._samples)

    def __getitem__(self, key: slice, /) -> Floats:
        start, stop, _ = key.indices(len(self))
        out = np.array(self._samples[start:stop], dtype=np.float32)
        length = self._click.sounds.shape[1]
        near = np.flatnonzero((self._places > start - length - 1) & (self._places < stop + 1))
        for i in near.tolist():
            first = int(np.floor(self._places[i]))
            sound = shifted(self._sounds[self._click.kinds[i]], 2 - (self._places[i] - first), length)
            a, b = max(first, start), min(first + length, stop)
            if a < b:
                out[a - start : b - start] -= sound[a - first : b - first] * np.float32(self._click.gains[i])
        return out
