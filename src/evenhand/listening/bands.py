"""Split a take into bands and follow the energy in each.

Conventions: ``samples`` shape (n,), float, mono; frames stand every 1/2000 s from
sample 0, whatever the take's rate; energies shape (n_bands, n_frames), float32,
mean square in the band. The filters have no delay: frame k is centred on
k / 2000 s. Work is done in blocks, so memory does not grow with the filters.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import gcd

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.cutting import quick_length

Floats = NDArray[np.float32]

FRAME_HZ = 2000
BANDS_HZ = ((100, 300), (300, 1000), (1000, 2200), (2200, 5000), (5000, 12000))
_EDGE = 0.15  # a band's raised-cosine edge, as a share of its edge frequency
_BLOCK_S = 1.0
_OVERLAP_S = 0.032


@dataclass(frozen=True, slots=True)
class BandShape:
    """Where one band lies in the spectrum of a block."""

    first_bin: int
    weights: Floats
    oversample: int


def usable_bands(rate_hz: int) -> tuple[tuple[int, int], ...]:
    """Return the bands that fit below the take's Nyquist frequency."""
    nyquist = rate_hz / 2
    return tuple((low, min(high, int(nyquist))) for low, high in BANDS_HZ if low * 1.3 < nyquist)


def band_energies(samples: NDArray[np.generic], rate_hz: int) -> Floats:
    """Return the energy in each band, every half millisecond.

    Parameters
    ----------
    samples : shape (n,), mono, full scale 1.0
    rate_hz : samples a second

    Returns
    -------
    shape (n_bands, n_frames), mean square; ``n_frames = ceil(n * 2000 / rate_hz)``.
    """
    bands = usable_bands(rate_hz)
    total = -(-len(samples) * FRAME_HZ // rate_hz)
    out = np.zeros((len(bands), total), dtype=np.float32)
    for first_frame, keep, block in _blocks(samples, rate_hz):
        stop = min(first_frame + keep.stop - keep.start, total)
        for row, energy in zip(out, block_energies(block, rate_hz), strict=True):
            row[first_frame:stop] = energy[keep][: stop - first_frame]
    return out


def block_energies(block: Floats, rate_hz: int) -> Iterator[Floats]:
    """Return the energy in each band of one block, whose length is a whole number of frames.

    Its two ends are taken for neighbours: a filter's reach from either (about 16 ms), it does not hold.
    """
    spectrum = np.asarray(np.fft.rfft(block), dtype=np.complex64)
    for band in usable_bands(rate_hz):
        yield _energy(spectrum, len(block), rate_hz, band)


def whole_frames(rate_hz: int) -> tuple[int, int]:
    """Return the shortest whole number of frames that is one of samples too: samples, frames."""
    both = gcd(rate_hz, FRAME_HZ)
    return rate_hz // both, FRAME_HZ // both


def _blocks(samples: NDArray[np.generic], rate_hz: int) -> Iterator[tuple[int, slice, Floats]]:
    """Cut overlapping blocks whose length is a whole number of frames.

    Yields the first frame a block answers for, which of its frames to keep, and
    its samples. Beyond either end the take is mirrored: where a recording begins, no sound does.
    """
    unit, unit_frames = whole_frames(rate_hz)
    lap = -(-int(_OVERLAP_S * rate_hz) // unit)
    body = max(1, min(int(_BLOCK_S * rate_hz), len(samples)) // unit)
    length = quick_length(body + 2 * lap)
    body = length - 2 * lap
    for at in range(0, len(samples), body * unit):
        first = at - lap * unit
        piece = samples[max(first, 0) : first + length * unit]
        before = max(-first, 0)
        block = np.pad(piece, (before, length * unit - before - len(piece)), mode="symmetric")
        keep = slice(lap * unit_frames, (lap + body) * unit_frames)
        yield at // unit * unit_frames, keep, block.astype(np.float32, copy=False)


def _energy(spectrum: NDArray[np.complex64], length: int, rate_hz: int, band: tuple[int, int]) -> Floats:
    """Return one band's energy a frame, from the block's spectrum."""
    shape = _shape(length, rate_hz, band)
    frames = length * FRAME_HZ // rate_hz
    size = frames * shape.oversample
    piece = spectrum[shape.first_bin : shape.first_bin + len(shape.weights)] * shape.weights
    folded = np.zeros(size, dtype=np.complex64)
    folded[: len(piece)] = piece
    envelope = np.fft.ifft(folded)
    power = envelope.real**2 + envelope.imag**2
    # Centre each frame's sum on its time: frame k covers k - 1/2 to k + 1/2.
    if shape.oversample > 1:
        ahead = shape.oversample // 2
        power = np.concatenate([power[size - ahead :], power[: size - ahead]])
        power = np.add.reduce(power.reshape(frames, shape.oversample), axis=1) / np.float32(shape.oversample)
    scale = (size / length) ** 2 * 2.0
    return np.asarray(power * np.float32(scale), dtype=np.float32)


@lru_cache(maxsize=64)
def _shape(length: int, rate_hz: int, band: tuple[int, int]) -> BandShape:
    """Return a band's weights on the bins of a block, with smooth edges."""
    low, high = band
    spread = high * (1 + _EDGE)
    top = min(spread, rate_hz / 2)
    first = int(np.ceil(low * (1 - _EDGE) * length / rate_hz))
    last = min(int(top * length / rate_hz), length // 2)
    freq = np.arange(first, last + 1) * rate_hz / length
    rise = np.clip((freq / low - (1 - _EDGE)) / (2 * _EDGE), 0, 1)
    fall = np.clip(((1 + _EDGE) - freq / high) / (2 * _EDGE), 0, 1) if spread <= rate_hz / 2 else 1.0
    weights = np.sin(rise * np.pi / 2) * np.sin(np.asarray(fall) * np.pi / 2)
    oversample = int(np.ceil((last - first + 1) * rate_hz / length / FRAME_HZ))
    return BandShape(first, weights.astype(np.float32), oversample)
