"""What of a hit's first moments is the ring of what sounded before.

A drum rings in a few dozen modes, and so does the tail of a click or a room, for some milliseconds: what
comes next follows from what came before by a linear recurrence. It is fitted to the sound just before each
hit (linear prediction by least squares, Makhoul 1975) and carried on under the hit. To take off the wave that
is carried on, and not its energy only, takes off what it adds and what it cancels.

Below 4 kHz only: above, tails are weak and die at once.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from evenhand.arrays import Floats, Singles

_RATE_HZ = 8000
_SEEN_S, _AHEAD_S = 0.020, 0.0006  # a fitted start may lie a little late
_ORDER = 40
_RIDGE = 1e-5  # of the mean square: what is no more than rounding is not carried on
_MOST_GROWTH = 1.5  # in energy; a tail does not grow


class Ringing(NamedTuple):
    """Mean squares over the time asked for, (n_hits,): what the ring explains of the sound, and its own."""

    explained: Floats
    own: Floats


def ringing(sound: Singles, zero: int, rate_hz: int, start_s: Floats, length_s: float) -> Ringing:
    """Carry on what sounds before each hit, and compare it with what is heard from its start on.

    Parameters
    ----------
    sound : shape (n_hits, length), a window around each hit, full scale 1.0
    zero : the column that times count from
    start_s : shape (n_hits,), where each hit starts, seconds
    length_s : how long from there
    """
    low, low_hz = _at_low_rate(sound, rate_hz)
    seen, ahead = int(_SEEN_S * low_hz), int(_AHEAD_S * low_hz)
    first = np.round((zero / rate_hz + start_s - _AHEAD_S) * low_hz).astype(np.intp) - seen
    columns = first[:, None] + np.arange(seen + ahead + int(length_s * low_hz))
    around = np.take_along_axis(low, np.clip(columns, 0, low.shape[1] - 1), axis=1)
    carried = _carried_on(around[:, :seen], around.shape[1] - seen)
    heard, ring = around[:, seen + ahead :], carried[:, ahead:]
    grows = (carried**2).mean(axis=1) > _MOST_GROWTH * (around[:, seen // 2 : seen] ** 2).mean(axis=1)
    ring = np.where(grows[:, None], 0.0, ring)
    return Ringing((heard**2 - (heard - ring) ** 2).mean(axis=1), (ring**2).mean(axis=1))


def _at_low_rate(sound: Singles, rate_hz: int) -> tuple[Singles, float]:
    """Return windows at about 8 kHz, and the exact rate; all that lies higher is left off."""
    length = sound.shape[1]
    size = min(length, round(length * _RATE_HZ / rate_hz))
    spectrum = np.fft.rfft(sound, axis=1, norm="forward")[:, : size // 2]
    low = np.fft.irfft(spectrum * np.float32(size), size, axis=1)
    return np.asarray(low, dtype=np.float32), size / length * rate_hz


def _carried_on(before: Singles, n: int) -> Floats:
    """Predict each row's next ``n`` samples.

    Parameters
    ----------
    before : shape (n_hits, n_seen)

    Returns
    -------
    shape (n_hits, n)
    """
    n_seen = before.shape[1]
    lagged = before[:, np.arange(_ORDER, n_seen)[:, None] - 1 - np.arange(_ORDER)]
    across = lagged.transpose(0, 2, 1)
    gram = (across @ lagged).astype(np.float64)
    size = np.trace(gram, axis1=1, axis2=2) / _ORDER
    gram += ((_RIDGE * size + 1e-30)[:, None] * np.ones(_ORDER))[:, :, None] * np.eye(_ORDER)
    by = np.linalg.solve(gram, across @ before[:, _ORDER:, None])[:, ::-1]
    out = np.concatenate([before[:, -_ORDER:], np.zeros((len(before), n))], axis=1)
    for i in range(n):
        out[:, _ORDER + i] = (out[:, None, i : _ORDER + i] @ by)[:, 0, 0]
    return out[:, _ORDER:]
