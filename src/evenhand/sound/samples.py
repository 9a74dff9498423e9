"""Strokes from recorded samples of several velocities, given as arrays.

Conventions: layers go from soft to loud, each (samples of shape (n,), rate in Hz).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.sound.strokes import LEAD, Rows, fade_out, split

Floats = NDArray[np.float64]

OVERSAMPLED = 4  # linear reading between points this much closer
PITCH_SD = 0.004
LAYER_SD = 0.6
SHELF_SD = 0.06
LONGEST_S = 2.0
FADE_SHARE = 0.2
HEAD_S = 0.25  # holds the start and the peak


@dataclass(frozen=True)
class SampleBank:
    """Recorded strokes of one drum, soft to loud.

    Parameters
    ----------
    layers
        (samples of shape (n,), rate_hz) of each recorded blow, soft to loud.
    """

    layers: tuple[tuple[NDArray[np.floating], int], ...]

    def __post_init__(self) -> None:
        if not self.layers:
            raise WrongUse("samples: got none; must be at least one recorded hit.")
        for samples, rate_hz in self.layers:
            if samples.ndim != 1 or not len(samples) or not np.any(samples) or rate_hz <= 0:
                raise WrongUse(
                    f"samples: got shape {samples.shape} at {rate_hz} Hz; must be one channel that sounds."
                )

    @cached_property
    def _dense(self) -> tuple[tuple[Floats, float], ...]:
        return tuple(_oversample(samples, rate_hz) for samples, rate_hz in self.layers)

    def strike(self, velocity: Floats, rate_hz: int, rng: np.random.Generator) -> Rows:
        """Choose, repitch and colour one recorded blow a stroke.

        Parameters
        ----------
        velocity
            How hard, 0 to 1, shape (n_strokes,): chooses the layer, give or take a little.

        Returns
        -------
        Rows
            Heads and tails, n_strokes of each.
        """
        wanted = velocity * (len(self.layers) - 1) + LAYER_SD * rng.standard_normal(len(velocity))
        chosen = np.clip(np.rint(wanted), 0, len(self.layers) - 1).astype(np.int64)
        pitch = 1 + PITCH_SD * rng.standard_normal(len(velocity))
        shelf = SHELF_SD * rng.standard_normal((len(velocity), 1))
        n = round(min(max(len(s) / r for s, r in self.layers), LONGEST_S) * rate_hz)
        t = np.arange(n) / rate_hz
        rows = np.zeros((len(velocity), LEAD + n))
        for i, layer in enumerate(chosen):
            dense, dense_hz = self._dense[layer]
            rows[i, LEAD:] = np.interp(t * (pitch[i] * dense_hz), np.arange(len(dense)), dense, right=0.0)
        rows[:, 1:] -= shelf * rows[:, :-1]
        tail = round(FADE_SHARE * rows.shape[1])
        rows[:, -tail:] *= fade_out(tail)
        return split(rows, LEAD + round(HEAD_S * rate_hz))


def _oversample(samples: NDArray[np.floating], rate_hz: int) -> tuple[Floats, float]:
    """Read a sample between its points, by a longer spectrum; cut what is far too long."""
    cut = np.asarray(samples[: round(1.1 * LONGEST_S * rate_hz)], np.float64)
    n = 1 << (len(cut) + 256 - 1).bit_length()
    spectrum = np.fft.rfft(cut, n)
    dense = np.fft.irfft(spectrum, n * OVERSAMPLED) * OVERSAMPLED
    return dense[: len(cut) * OVERSAMPLED], float(rate_hz * OVERSAMPLED)
