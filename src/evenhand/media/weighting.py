"""The weighting of ITU-R BS.1770-4: what a sound weighs to an ear, as two filters one after the other.

Conventions: frames are floats, shape (n, channels).

The standard gives its coefficients for 48 kHz only. Both filters are second-order sections of analogue shapes
(a high shelf for the head, a high-pass for the low end) brought to a sampling rate by the bilinear transform;
the shapes' figures are De Man's, "Evaluation of implementations of the EBU R128 loudness measurement",
AES Convention 145 (2018), and give the standard's coefficients at 48 kHz to 1e-9 (a test holds them to it).

The filters are applied in the frequency domain: what rings on after the end falls into the silence put there.
The slower one, a high-pass at 38 Hz, has rung down by 120 dB in less than `RINGS_S`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SHELF_HZ, SHELF_DB, SHELF_Q = 1681.9744509555319, 3.99984385397, 0.7071752369554193
SHELF_MIDDLE = 0.499666774155  # the part of its gain, in dB, that the shelf has at its own frequency
HIGH_PASS_HZ, HIGH_PASS_Q = 38.13547087613982, 0.5003270373253953
RINGS_S = 0.2


def sections(rate_hz: int) -> Floats:
    """Return both filters at a rate: rows of b0, b1, b2, a0, a1, a2, shape (2, 6)."""
    k = np.tan(np.pi * SHELF_HZ / rate_hz)
    top = 10 ** (SHELF_DB / 20)
    middle = top**SHELF_MIDDLE
    shelf = [top + middle * k / SHELF_Q + k * k, 2 * (k * k - top), top - middle * k / SHELF_Q + k * k]
    low = np.tan(np.pi * HIGH_PASS_HZ / rate_hz)
    return np.array(
        [
            [*np.array(shelf) / _poles(k, SHELF_Q)[0], *_poles(k, SHELF_Q) / _poles(k, SHELF_Q)[0]],
            [1.0, -2.0, 1.0, *_poles(low, HIGH_PASS_Q) / _poles(low, HIGH_PASS_Q)[0]],
        ]
    )


def _poles(k: float, q: float) -> Floats:
    return np.array([1 + k / q + k * k, 2 * (k * k - 1), 1 - k / q + k * k])


def weighted(frames: Floats, rate_hz: int) -> Floats:
    """Return frames as the standard weighs them, shape (n, channels)."""
    n = len(frames)
    length = _quick_length(n + round(RINGS_S * rate_hz))
    spectrum = np.fft.rfft(frames, length, axis=0) * _response(length, rate_hz)[:, None]
    return np.asarray(np.fft.irfft(spectrum, length, axis=0)[:n])


def _response(length: int, rate_hz: int) -> NDArray[np.complex128]:
    """Return what both filters do to each frequency of a spectrum, shape (length // 2 + 1,)."""
    back = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)  # one sample's delay
    powers = np.stack([np.ones_like(back), back, back * back])
    parts = sections(rate_hz)
    return np.asarray(np.prod((parts[:, :3] @ powers) / (parts[:, 3:] @ powers), axis=0))


def _quick_length(n: int) -> int:
    """Return the smallest length from n up that is quick to transform: 1, 3 or 5 times a power of two."""
    return min(part << (-(-n // part) - 1).bit_length() for part in (1, 3, 5))
