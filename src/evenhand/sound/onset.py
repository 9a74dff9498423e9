"""Where a stroke's sound starts, and how loud it is: the definitions, on dry sound.

Conventions: ``rows`` has shape (n_strokes, n_samples), one stroke alone a row. A start
is a place in samples, fractional, from the row's first sample.

- Start: first crossing of 1 % of the stroke's own peak after a 200 Hz second-order
  Butterworth highpass (causal), interpolated linearly between samples.
- Level: RMS of the first 10 ms from there, highpassed, in dB re full scale.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Spectra = NDArray[np.complex128]

HIGHPASS_HZ = 200.0
START_SHARE = 0.01
LEVEL_S = 0.010
SILENT = 1e-12


def biquad_highpass(cutoff_hz: float, rate_hz: float) -> tuple[Floats, Floats]:
    """Return numerator and denominator of a second-order Butterworth highpass (bilinear)."""
    k = math.tan(math.pi * cutoff_hz / rate_hz)
    scale = 1 / (1 + math.sqrt(2) * k + k * k)
    b = np.array([scale, -2 * scale, scale])
    a = np.array([1.0, 2 * (k * k - 1) * scale, (1 - math.sqrt(2) * k + k * k) * scale])
    return b, a


def response(b: Floats, a: Floats, n_fft: int) -> Spectra:
    """Return a filter's frequency response at the bins of a real FFT, shape (n_fft // 2 + 1,)."""
    z = np.exp(-2j * np.pi * np.arange(n_fft // 2 + 1) / n_fft)
    return np.asarray(np.polyval(b[::-1], z) / np.polyval(a[::-1], z), np.complex128)


def highpass_response(rate_hz: float, n_fft: int) -> Spectra:
    """Return the response of the highpass of the definitions."""
    return response(*biquad_highpass(HIGHPASS_HZ, rate_hz), n_fft)


def starts(highpassed: Floats) -> Floats:
    """Find where each highpassed row first crosses 1 % of its peak, in samples, shape (n_strokes,)."""
    size = np.abs(highpassed)
    threshold = START_SHARE * np.max(size, axis=1)
    first = np.argmax(size >= threshold[:, None], axis=1)
    row = np.arange(len(size))
    after, before = size[row, first], size[row, np.maximum(first - 1, 0)]
    step = np.maximum(after - before, SILENT)
    return np.where(first > 0, first - (after - threshold) / step, 0.0)


def levels_rms(highpassed: Floats, start: Floats, rate_hz: float) -> Floats:
    """Return the RMS of the first 10 ms from each start, linear, shape (n_strokes,)."""
    n = max(round(LEVEL_S * rate_hz), 1)
    first = np.ceil(start).astype(np.int64)
    at = np.minimum(first[:, None] + np.arange(n), highpassed.shape[1] - 1)
    window = np.take_along_axis(highpassed, at, axis=1)
    return np.asarray(np.sqrt(np.mean(window**2, axis=1)))


def to_db(rms: Floats) -> Floats:
    """Return decibels of linear amplitudes."""
    return 20 * np.log10(np.maximum(rms, SILENT))


def good_size(n: int) -> int:
    """Return the next length that a real FFT is quick at (2^a 3^b 5^c).

    >>> good_size(1025)
    1080
    """
    best = 1 << (n - 1).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            whole = three * (1 << max((-(-n // three) - 1).bit_length(), 0))
            best = min(best, whole)
            three *= 3
        five *= 5
    return best
