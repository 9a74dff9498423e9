"""Split a take into bands, follow the energy in each, and measure how new each moment is.

Conventions: ``samples`` shape (n,), full scale 1.0, mono, or anything that is sliced like it; what lies
outside a take is silence. Frames stand every 1/2000 s from sample 0, whatever the take's rate; energies shape
(n_bands, n_frames), float32, mean square in the band. The filters have no delay: frame k is centred on
k / 2000 s. Work is done in blocks, so memory does not grow with the filters. Strength shape (n_frames,), in
units of the spread that steady noise would give; peaks as frame indices, rising.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import gcd

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import Floats, Indices, Singles
from evenhand.take import Samples


def rows(samples: Samples, first: Indices, length: int) -> Singles:
    """Return a row of samples from each first sample on, shape (n_rows, length).

    Parameters
    ----------
    samples : shape (n,), full scale 1.0
    first : shape (n_rows,), the first sample of each

    Returns
    -------
    shape (n_rows, length); silence outside the take
    """
    total = len(samples)
    if isinstance(samples, np.ndarray) and len(first) and first.min() >= 0 and first.max() + length <= total:
        return np.asarray(samples[first[:, None] + np.arange(length)], dtype=np.float32)
    out = np.zeros((len(first), length), dtype=np.float32)
    for row, start in zip(out, first.tolist(), strict=True):
        piece = samples[max(start, 0) : max(min(start + length, total), 0)]
        row[max(-start, 0) : max(-start, 0) + len(piece)] = piece
    return out


def highpass_response(length: int, rate_hz: int, cutoff_hz: float) -> NDArray[np.complex64]:
    """Return the response of a second-order Butterworth highpass (bilinear) on rfft bins.

    Parameters
    ----------
    length : of the block, in samples
    cutoff_hz : where it is 3 dB down

    Returns
    -------
    shape (length // 2 + 1,), complex
    """
    warped = np.tan(np.pi * cutoff_hz / rate_hz)
    z = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)
    norm = 1 + np.sqrt(2) * warped + warped**2
    top = (1 - 2 * z + z**2) / norm
    bottom = 1 + 2 * (warped**2 - 1) / norm * z + (1 - np.sqrt(2) * warped + warped**2) / norm * z**2
    return np.asarray(top / bottom, dtype=np.complex64)


def lowpass_response(length: int, rate_hz: int, cutoff_hz: float) -> NDArray[np.complex64]:
    """Return the response of a second-order Butterworth lowpass likewise; high up it lets all pass.

    Parameters
    ----------
    length : of the block, in samples
    cutoff_hz : where it is 3 dB down

    Returns
    -------
    shape (length // 2 + 1,), complex
    """
    if cutoff_hz >= 0.45 * rate_hz:
        return np.ones(length // 2 + 1, dtype=np.complex64)
    warped = np.tan(np.pi * cutoff_hz / rate_hz)
    z = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)
    bottom = 1 + np.sqrt(2) * warped + warped**2
    bottom = bottom + 2 * (warped**2 - 1) * z + (1 - np.sqrt(2) * warped + warped**2) * z**2
    return np.asarray((warped * (1 + z)) ** 2 / bottom, dtype=np.complex64)


def quick_length(at_least: int) -> int:
    """Return the next length with small prime factors only."""
    best = 1 << (at_least - 1).bit_length()
    for odd in (3, 5, 9, 15, 25, 27, 45, 75):
        size = odd << max(0, (-(-at_least // odd) - 1).bit_length())
        if at_least <= size < best:
            best = size
    return best


FRAME_HZ = 2000
BANDS_HZ = ((100, 300), (300, 1000), (1000, 2200), (2200, 5000), (5000, 12000))
_EDGE = 0.15  # a band's raised-cosine edge, as a share of its edge frequency
_BLOCK_S = 0.44
_OVERLAP_S = 0.032
_FOURS, _ROWS = 4, 8  # blocks of like length are transformed four at a time, and held so many


@dataclass(frozen=True, slots=True)
class BandShape:
    """Where one band lies in the spectrum of a block."""

    first_bin: int
    weights: NDArray[np.complex64]
    oversample: int


def usable_bands(rate_hz: int) -> tuple[tuple[int, int], ...]:
    """Return the bands that fit below the take's Nyquist frequency."""
    nyquist = rate_hz / 2
    return tuple((low, min(high, int(nyquist))) for low, high in BANDS_HZ if low * 1.3 < nyquist)


def band_energies(samples: NDArray[np.generic], rate_hz: int) -> Singles:
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
    for first_frame, keep, blocks in _blocks(samples, rate_hz):
        for row, energy in zip(out, block_energies(blocks, rate_hz), strict=True):
            part = row[first_frame : first_frame + len(blocks) * (keep.stop - keep.start)]
            part[:] = energy[:, keep].reshape(-1)[: len(part)]
    return out


def block_energies(blocks: Singles, rate_hz: int) -> Iterator[Singles]:
    """Return the energy in each band of some blocks, whose length is a whole number of frames.

    Parameters
    ----------
    blocks : shape (n_blocks, length); their ends are taken for neighbours, as far as filters reach (16 ms)

    Returns
    -------
    shape (n_blocks, n_frames) for each band, mean square
    """
    spectra = np.asarray(np.fft.rfft(blocks, axis=1, norm="forward"), dtype=np.complex64)
    for band in usable_bands(rate_hz):
        yield _energy(spectra, blocks.shape[1], rate_hz, band)


def whole_frames(rate_hz: int) -> tuple[int, int]:
    """Return the shortest whole number of frames that is one of samples too: samples, frames."""
    both = gcd(rate_hz, FRAME_HZ)
    return rate_hz // both, FRAME_HZ // both


def _blocks(samples: NDArray[np.generic], rate_hz: int) -> Iterator[tuple[int, slice, Singles]]:
    """Cut overlapping blocks whose length is a whole number of frames, some at a time, shape (n, length).

    Yields the first frame they answer for, which frames of each to keep, and their samples.
    Beyond either end the take is mirrored: where a recording begins, no sound does.
    """
    unit, unit_frames = whole_frames(rate_hz)
    lap = -(-int(_OVERLAP_S * rate_hz) // unit)
    body = max(1, min(int(_BLOCK_S * rate_hz), len(samples)) // unit)
    length = quick_length(body + 2 * lap)
    body = length - 2 * lap
    keep = slice(lap * unit_frames, (lap + body) * unit_frames)
    step, aside = body * unit, lap * unit
    n_blocks = -(-len(samples) // step)
    for at in range(0, n_blocks, _ROWS):
        n = min(_ROWS, n_blocks - at)
        n += -n % _FOURS if n > 1 else 0
        first, stop = at * step - aside, (at + n) * step + aside
        piece = np.asarray(samples[max(first, 0) : stop], dtype=np.float32)
        before = max(-first, 0)
        piece = np.pad(piece, (before, stop - first - before - len(piece)), mode="symmetric")
        blocks = np.lib.stride_tricks.sliding_window_view(piece, step + 2 * aside)[::step]
        yield at * body * unit_frames, keep, blocks


def _energy(spectra: NDArray[np.complex64], length: int, rate_hz: int, band: tuple[int, int]) -> Singles:
    """Return one band's energy a frame, shape (n_blocks, n_frames), from the blocks' spectra."""
    shape = _shape(length, rate_hz, band)
    frames = length * FRAME_HZ // rate_hz
    size = frames * shape.oversample
    folded = np.zeros((len(spectra), size), dtype=np.complex64)  # transforms that fill up themselves are slow
    bins = slice(shape.first_bin, shape.first_bin + len(shape.weights))
    np.multiply(spectra[:, bins], shape.weights, out=folded[:, : len(shape.weights)])
    parts = np.fft.ifft(folded, axis=1).view(np.float32)
    parts *= parts
    scale = 2.0 * size**2 / shape.oversample
    sums = np.full(2 * shape.oversample, scale, dtype=np.float32)
    return np.asarray(parts.reshape(len(spectra), frames, -1) @ sums, dtype=np.float32)


@lru_cache(maxsize=64)
def _shape(length: int, rate_hz: int, band: tuple[int, int]) -> BandShape:
    """Return a band's weights on the bins of a block, with smooth edges.

    They turn the phase, so that frame k is the sum from k - 1/2 to k + 1/2.
    """
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
    later = oversample // 2 / (length * FRAME_HZ // rate_hz * oversample)
    turned = weights * np.exp(-2j * np.pi * later * np.arange(len(weights)))
    return BandShape(first, turned.astype(np.complex64), oversample)


_AT_ONCE = 20_000  # frames, 10 s: bounds memory
_FLOOR = 1e-6  # of a band's loudest moment: below it, as good as silence


@dataclass(frozen=True, slots=True)
class NoveltySettings:
    """Windows after and before a moment (frames), and what counts.

    Chosen on generated takes of pads and snares by F1 before alignment.
    """

    windows: tuple[tuple[int, int], ...] = ((2, 12), (6, 20), (16, 32))
    bend: float = 2.0  # spreads at which a band's say begins to grow only with the logarithm
    least_for_a_band: float = -2.0
    weak: float = 2.2
    clear: float = 2.8  # speaks for itself
    strong: float = 4.2
    apart: int = 16  # frames between two candidates, 8 ms


SETTINGS = NoveltySettings()


@dataclass(frozen=True, slots=True)
class Novelty:
    """How much each moment stands out.

    That is by the best of all windows, and by the shortest
    alone, which says less surely that something began but better when. Shape (n_frames,).
    """

    strength: Singles
    sharp: Singles


def novelty(
    energies: Singles, *, settings: NoveltySettings = SETTINGS, loudest: Singles | None = None
) -> Novelty:
    """Return how much each moment stands out from what came just before.

    In each band the energy just after is set against the energy just before, in
    decibels over the spread that noise of that bandwidth would show; bands are
    summed after their say is bent, so that no single band decides, and the best of
    three window lengths is kept.

    Parameters
    ----------
    energies : shape (n_bands, n_frames), mean square
    loudest : shape (n_bands, 1), each band's loudest moment, where more was heard than is given here

    Returns
    -------
    ``strength`` and ``sharp``, shape (n_frames,), in spreads of steady noise
    """
    longest = max(before for _, before in settings.windows)
    edges = (longest, max(after for after, _ in settings.windows))
    most = energies.max(axis=1, keepdims=True) if loudest is None else loudest
    padded = np.pad(energies, ((0, 0), edges), mode="edge") + (np.float32(1e-14) + most * np.float32(_FLOOR))
    totals = np.zeros((len(padded), padded.shape[1] + 1))
    np.cumsum(padded, axis=1, dtype=np.float64, out=totals[:, 1:])
    best, sharp = np.full((2, energies.shape[1]), -np.inf, dtype=np.float32)
    for first, (turn, (after, before)) in product(range(0, len(best), _AT_ONCE), enumerate(settings.windows)):
        part = slice(first, first + _AT_ONCE)
        rise = _rise(totals, longest + first, len(best[part]), after, before)
        rise *= (1 / _noise_spread(len(energies), after, before))[:, None]
        np.maximum(rise, settings.least_for_a_band, out=rise)
        bent = np.log1p(np.maximum(rise, 0) * np.float32(1 / settings.bend)) * np.float32(settings.bend)
        bent += np.minimum(rise, 0)
        total = bent.sum(axis=0) * np.float32(1 / np.sqrt(len(energies)))
        best[part] = np.maximum(best[part], total)
        if turn == 0:
            sharp[part] = total
    return Novelty(best, sharp)


def _rise(totals: Floats, start: int, frames: int, after: int, before: int) -> Singles:
    """Return the natural logarithm of the mean energy after each frame over the mean before it."""
    here = totals[:, start : start + frames]
    now = (totals[:, start + after : start + after + frames] - here).astype(np.float32)
    past = (here - totals[:, start - before : start - before + frames]).astype(np.float32)
    now *= np.float32(before / after)
    np.maximum(past, now * np.float32(1e-9) + np.float32(1e-25), out=past)
    np.maximum(now, np.float32(1e-25), out=now)
    now /= past
    return np.log(now)


@lru_cache
def _noise_spread(n_bands: int, after: int, before: int) -> Singles:
    """Return the standard deviation of that logarithm for noise of each band's width.

    Energy in a window of T seconds and bandwidth B is the mean of about BT + 1
    independent exponential values, so its log has variance near 1 / (BT + 1).
    """
    width = np.array([high - low for low, high in BANDS_HZ[:n_bands]], dtype=np.float64)
    variance = 1 / (width * after / FRAME_HZ + 1) + 1 / (width * before / FRAME_HZ + 1)
    return np.sqrt(variance).astype(np.float32)


def peak_frames(heard: Novelty, *, settings: NoveltySettings = SETTINGS) -> Indices:
    """Return the frames that may be hits: peaks of the strength, the strongest first to choose.

    Returns
    -------
    shape (n_peaks,), rising, ``settings.apart`` or more apart
    """
    strength = heard.strength
    inner = strength[1:-1]
    peak = np.flatnonzero((inner >= strength[:-2]) & (inner > strength[2:]) & (inner > settings.weak)) + 1
    order = peak[np.argsort(-strength[peak], kind="stable")]
    taken = np.zeros(len(strength) + 2 * settings.apart, dtype=bool)
    kept = []
    for frame in order.tolist():
        if not taken[frame + settings.apart]:
            kept.append(frame)
            taken[frame + 1 : frame + 2 * settings.apart] = True
    return np.array(sorted(kept), dtype=np.intp)


def sharpened(heard: Novelty, frames: Indices, *, back: int = 6, on: int = 17) -> Indices:
    """Move each candidate to where the shortest window says it began.

    The longest window sees a beginning from up to its own length ahead, so the search
    goes further on than back.

    Parameters
    ----------
    frames : shape (n_peaks,)
    back, on : how far is looked, in frames

    Returns
    -------
    shape (n_peaks,), frames
    """
    reach = np.arange(-back, on + 1)
    around = np.clip(frames[:, None] + reach, 0, len(heard.sharp) - 1)
    value = heard.sharp[around] - np.float32(0.02) * np.abs(reach)
    return np.take_along_axis(around, value.argmax(axis=1)[:, None], axis=1)[:, 0]


def peak_between(value: NDArray[np.floating], best: Indices) -> Floats:
    """Return how far from its best column each row's peak lies, by a parabola, -1/2 to 1/2.

    Parameters
    ----------
    value : shape (n_rows, n_columns)
    best : shape (n_rows,), the column of each row's largest value

    Returns
    -------
    shape (n_rows,), in columns
    """
    inner = np.clip(best, 1, value.shape[1] - 2)
    at = np.arange(len(value))
    left, mid, right = value[at, inner - 1], value[at, inner], value[at, inner + 1]
    bend = left - 2 * mid + right
    part = np.where(bend < 0, 0.5 * (left - right) / np.minimum(bend, -1e-9), 0.0)
    return np.where(inner == best, np.clip(part, -0.5, 0.5), 0.0)


def distance_s(times_s: Floats, marks_s: Floats) -> Floats:
    """Return how far each time lies from the nearest mark.

    Parameters
    ----------
    times_s : shape (n,), seconds
    marks_s : shape (n_marks,), seconds, rising, one or more

    Returns
    -------
    shape (n,), seconds
    """
    right = np.searchsorted(marks_s, times_s)
    after = np.abs(times_s - marks_s[np.minimum(right, len(marks_s) - 1)])
    return np.asarray(np.minimum(after, np.abs(times_s - marks_s[np.maximum(right - 1, 0)])))
