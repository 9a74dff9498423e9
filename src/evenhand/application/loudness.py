"""How loud a recording is at each moment, for what asks whether something could have been overheard."""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import NDArray

from evenhand.application.ports import SoundTake
from evenhand.listening.bands import FRAME_HZ, band_energies
from evenhand.practising.loudness import LASTS_S, STEP_S, Loudness

PIECE_S = 120
SILENCE = 1e-14


def loudness_of(take: SoundTake) -> Loudness:
    """Follow the loudness of a take from 100 Hz up, piece by piece, so that memory does not grow with it."""
    step, lasts = round(STEP_S * FRAME_HZ), round(LASTS_S * FRAME_HZ)
    power = [_power(piece, take.rate_hz) for _, piece in take.blocks(PIECE_S * take.rate_hz)]
    total = np.cumsum(np.concatenate([[0.0], *power]))
    first = np.arange(0, max(len(total) - 1, 1), step)
    last = np.minimum(first + lasts, len(total) - 1)
    mean = (total[last] - total[first]) / np.maximum(last - first, 1)
    return Loudness(10 * np.log10(mean + SILENCE))


def _power(piece: NDArray[np.float32], rate_hz: int) -> NDArray[np.float64]:
    """Return the energy of all bands together, every half millisecond."""
    return cast("NDArray[np.float64]", band_energies(piece, rate_hz).sum(axis=0, dtype=np.float64))
