"""Time each hit by the shape of its attack, and weigh its loudness.

Conventions: ``samples`` shape (n,), full scale 1.0; hit times shape (n_hits,),
seconds from sample 0. A hit's time is where its sound starts: the crossing of 1 %
of its peak after a 200 Hz highpass, interpolated between samples. Where noise or
an earlier hit's tail hides that crossing, the take's own attack shape is fitted
to the energy and says where it must have been. A hit's level is the RMS of its
first 10 ms above 200 Hz, dB re full scale, without noise and tails.

The fit is by maximum likelihood: energies in short bins are taken as exponential
about background + gain x shape (the likelihood of a power spectrum; Whittle 1953).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import ArrayTable, Bools, Floats, Indices, Singles
from evenhand.hearing.onsets.bands import highpass_response, peak_between, quick_length, rows
from evenhand.hearing.onsets.rising import find_rise, starts
from evenhand.take import Samples

_BEFORE_S, _AFTER_S = 0.020, 0.020
_HIGHPASS_HZ = 200.0
_SETTLES_S = 0.006  # the filter does, before a window begins
_LEVEL_S = 0.010
FINE_REACH_S = 0.7e-3
_BATCH = 1500  # hits timed at once: bounds memory
_ROUGH_S = 0.003  # how far off a rough time usually is
_LOG_VARIANCE = 0.5  # of the logarithm of a short bin's energy


@dataclass(frozen=True, slots=True)
class Windows:
    """Highpassed sound around each hit.

    ``sound`` shape (n_hits, length); ``zero`` is
    the column of the moment the hit was thought to start; ``first`` each row's first
    sample in the take.
    """

    sound: Singles
    first: Indices
    zero: int
    rate_hz: int


@dataclass(frozen=True, slots=True)
class TimedHits(ArrayTable):
    """Hits timed and weighed.

    They have ``times_s``, ``levels_db``, ``sure`` (whether the 1 %
    crossing itself was seen), ``fit_gain`` (nats by which the shape explains it), all (n_hits,).
    """

    times_s: Floats
    levels_db: Floats
    sure: Bools
    fit_gain: Floats


def windows(samples: Samples, rate_hz: int, times_s: Floats) -> tuple[Windows, Windows]:
    """Cut and highpass the sound around each hit; and once more, whitened.

    Parameters
    ----------
    samples : shape (n,), full scale 1.0
    times_s : shape (n_hits,), where each is thought to begin, seconds
    """
    spectrum, size, first = _spectra(samples, rate_hz, times_s)
    plain = _sounds(spectrum, size, first, rate_hz)
    spectrum *= np.fft.rfft(_whitening_filter(plain), size).astype(np.complex64)
    return plain, _sounds(spectrum, size, first, rate_hz)


def highpassed(samples: Samples, rate_hz: int, times_s: Floats) -> Windows:
    """Cut and highpass the sound around each hit.

    Parameters
    ----------
    samples : shape (n,), full scale 1.0
    times_s : shape (n_hits,), where each is thought to begin, seconds
    """
    return _sounds(*_spectra(samples, rate_hz, times_s), rate_hz)


def _spectra(
    samples: Samples, rate_hz: int, times_s: Floats
) -> tuple[NDArray[np.complexfloating], int, Indices]:
    """Return the highpassed spectrum of each hit's window with its lead, its size, and the first samples."""
    lead, length = _lead_and_length(rate_hz)
    first = np.round(times_s * rate_hz).astype(np.intp) - int(_BEFORE_S * rate_hz) - lead
    cut = rows(samples, first, length)
    cut = cut - cut[:, :1]
    size = quick_length(length)
    return np.fft.rfft(cut, size, axis=1) * highpass_response(size, rate_hz, _HIGHPASS_HZ), size, first


def _sounds(spectrum: NDArray[np.complexfloating], size: int, first: Indices, rate_hz: int) -> Windows:
    """Return windows from their spectra, the lead left off."""
    lead, length = _lead_and_length(rate_hz)
    sound = np.fft.irfft(spectrum, n=size, axis=1)[:, lead:length].astype(np.float32)
    return Windows(sound, first + lead, int(_BEFORE_S * rate_hz), rate_hz)


def _lead_and_length(rate_hz: int) -> tuple[int, int]:
    """Return how many samples the filter settles in, and how long a window is with them."""
    lead = int(_SETTLES_S * rate_hz)
    return lead, int(_BEFORE_S * rate_hz) + int(_AFTER_S * rate_hz) + lead


def _whitening_filter(cut: Windows, order: int = 24) -> Singles:
    """Return the prediction-error filter of what sounds before the hits: noise and tails.

    Linear prediction by the autocorrelation method (Makhoul 1975).
    """
    rate = cut.rate_hz
    before = cut.sound[:, cut.zero - int(14e-3 * rate) : cut.zero - int(3e-3 * rate)]
    before = before * np.hanning(before.shape[1]).astype(np.float32)
    power = np.abs(np.fft.rfft(before, 2 * before.shape[1], axis=1)) ** 2
    power /= power.mean(axis=1, keepdims=True) + 1e-20
    lags = np.fft.irfft(power.mean(axis=0))[: order + 1]
    lags[0] *= 1 + 1e-5
    system = lags[np.abs(np.arange(order)[:, None] - np.arange(order))]
    return np.concatenate([[1.0], -np.linalg.solve(system, lags[1:])], dtype=np.float32, casting="same_kind")


def _binned(cut: Windows, bin_samples: int) -> Singles:
    """Return the mean energy in bins of so many samples; bins start at column 0."""
    n_bins = cut.sound.shape[1] // bin_samples
    square = cut.sound[:, : n_bins * bin_samples] ** 2
    return np.asarray(square.reshape(len(square), n_bins, bin_samples).mean(axis=2))


def shift_fit(
    energy: Singles,
    shape: Singles,
    background: Singles,
    lags: Indices,
    at: int,
) -> tuple[Floats, Floats]:
    """Fit where the shape begins in each row of energies.

    Parameters
    ----------
    energy : shape (n_hits, n_bins)
    shape : shape (n_shape,), mean 1 over the attack
    background : (n_hits,), energy a bin before the hit
    lags : (n_lags,), trial starts in bins, relative to bin ``at``
    at : the bin that lag 0 means

    Returns
    -------
    shape (n_hits,): start in bins relative to ``at``, with a parabola between bins; and
    the log likelihood gained over no hit at all (n_hits,).
    """
    span = np.arange(lags[0] + at, lags[-1] + at + len(shape))
    seen = energy[:, span] / background[:, None]
    best = np.empty((len(energy), len(lags)), dtype=np.float64)
    body = shape > 0.1 * shape.max()
    for column, lag in enumerate(lags - lags[0]):
        part = seen[:, lag : lag + len(shape)]
        gain = np.maximum((part[:, body].mean(axis=1) - 1) / shape[body].mean(), 1e-3)
        expected = 1 + gain[:, None] * shape[None, :]
        said = part * (1 - 1 / expected) - np.log(expected)
        best[:, column] = said.sum(axis=1)
    peak = best.argmax(axis=1)
    return lags[peak] + peak_between(best, peak), best[np.arange(len(best)), peak]


def time_hits(samples: Samples, rate_hz: int, rough_s: Floats, disturbed: Bools | None = None) -> TimedHits:
    """Time and weigh each hit that was roughly found.

    Parameters
    ----------
    samples : shape (n,), the take, full scale 1.0
    rough_s : shape (n_hits,), seconds, rising; each within about 8 ms of its hit
    disturbed : shape (n_hits,), hits whose rise may be another sound's, such as a click's
    """
    if len(rough_s) == 0:
        nothing = np.zeros(0)
        return TimedHits(nothing, nothing, np.zeros(0, dtype=bool), nothing)
    doubtful = np.zeros(len(rough_s), dtype=bool) if disturbed is None else disturbed
    n_batches = -(-len(rough_s) // _BATCH)
    batches = zip(np.array_split(rough_s, n_batches), np.array_split(doubtful, n_batches), strict=True)
    return TimedHits.joined([_time_batch(samples, rate_hz, rough, remark) for rough, remark in batches])


def _time_batch(samples: Samples, rate_hz: int, rough_s: Floats, disturbed: Bools) -> TimedHits:
    """Time and weigh some hits, with the attack shape they share."""
    _, white = windows(samples, rate_hz, rough_s)
    coarse = lock(white)
    middle = rough_s + coarse
    cut, white = windows(samples, rate_hz, middle)
    fine, gained, shape_start = _fit(white, bin_s=1 / 16000, reach_s=FINE_REACH_S, shape_s=0.005, rounds=2)
    until_next = np.diff(middle + fine, append=np.inf)
    rise = find_rise(cut.sound, cut.zero, rate_hz, fine, until_next).without(disturbed)
    start, sure = starts(rise, fine, levels(cut, fine + shape_start), shape_start)
    times = np.maximum((cut.first + cut.zero) / rate_hz + start, 0.0)
    return TimedHits(times, levels(cut, start), sure, gained)


def lock(cut: Windows, *, bin_s: float = 0.25e-3, reach_s: float = 7e-3, rounds: int = 4) -> Floats:
    """Bring all hits to the same feature of the attack, whatever their level.

    The logarithm of the energy over its background is laid against the median
    rise of all hits, from a little before the rise to well into the body, and
    moved to where it fits best. Returns each hit's start after the window's zero, s, shape (n_hits,).
    """
    size = max(1, round(bin_s * cut.rate_hz))
    bin_s = size / cut.rate_hz
    energy = _binned(cut, size)
    at, reach = cut.zero // size, round(reach_s / bin_s)
    early, late = round(4e-3 / bin_s), round(8e-3 / bin_s)
    quiet = energy[:, max(0, at - reach - round(4e-3 / bin_s)) : at - round(3e-3 / bin_s)]
    background = np.maximum(np.median(quiet, axis=1), 1e-12 + 1e-6 * energy.max(axis=1))
    rise = np.log1p(energy / background[:, None])
    smooth = rise.copy()
    smooth[:, 1:-1] = (rise[:, :-2] + rise[:, 1:-1] + rise[:, 2:]) / 3
    lags = np.arange(-reach, reach + 1)
    step = np.where(np.arange(-early, late) >= 0, 1.0, 0.0)
    pattern = step - step.mean()
    view = np.lib.stride_tricks.sliding_window_view(smooth, early + late, axis=1)
    view = view[:, at - early - reach : at - early + reach + 1]
    shift = np.zeros(len(energy), dtype=np.intp)
    far = 0.5 * (lags * bin_s / _ROUGH_S) ** 2
    for _ in range(rounds + 1):
        fit = np.maximum(view @ pattern, 0) ** 2 / (2 * _LOG_VARIANCE * (pattern @ pattern))
        shift = (fit - far).argmax(axis=1)
        row = view[np.arange(len(view)), shift]
        loud = row.max(axis=1) >= np.median(row.max(axis=1))
        typical = np.median(row[loud], axis=0)
        pattern = typical - typical.mean()
    return np.asarray(lags[shift] * bin_s, dtype=np.float64)


def _fit(
    cut: Windows,
    *,
    bin_s: float,
    reach_s: float,
    shape_s: float,
    rounds: int,
) -> tuple[Floats, Floats, float]:
    """Fit the take's own attack shape to every hit; learn the shape as it goes.

    Returns each hit's start after the window's zero (s), the likelihood gained, and
    how long after the shape's own zero its sound begins (s).
    """
    size = max(1, round(bin_s * cut.rate_hz))
    bin_s = size / cut.rate_hz
    energy = _binned(cut, size)
    at = cut.zero // size
    reach = max(2, round(reach_s / bin_s))
    length = round(shape_s / bin_s)
    early = round(1.0e-3 / bin_s)  # the shape is learnt from a little before the rise
    quiet = energy[:, max(0, at - reach - round(6e-3 / bin_s)) : at - min(reach, round(2e-3 / bin_s))]
    background = np.maximum(quiet.mean(axis=1), 1e-12 + 1e-7 * energy.max(axis=1)).astype(np.float32)
    start = np.zeros(len(energy))
    shape = np.ones(length, dtype=np.float32)  # a plain step, where the take shows no shape of its own
    shape[:early] = 0
    gained = np.zeros(len(energy))
    for turn in range(rounds):
        learnt = _learn(energy, background, start, at, early, length)
        shape = shape if learnt is None else learnt
        span = reach if turn == 0 else max(2, reach // 2)
        middle = 0 if turn == 0 else round(float(np.median(start)))
        lags = np.arange(middle - span - early, middle + span - early + 1)
        start, gained = shift_fit(energy, shape, background, lags, at)
        start = start + early
    begins = _shape_begins(shape, early) * bin_s
    return (start + at) * bin_s - cut.zero / cut.rate_hz, gained, begins


def _learn(
    energy: Singles, background: Singles, start: Floats, at: int, early: int, length: int
) -> Singles | None:
    """Learn the attack shape from the louder half of the hits, background taken off."""
    columns = np.round(start).astype(np.intp)[:, None] + at - early + np.arange(length)
    inside = (columns[:, 0] >= 0) & (columns[:, -1] < energy.shape[1])
    part = (
        energy[np.arange(len(energy))[:, None], np.clip(columns, 0, energy.shape[1] - 1)]
        - background[:, None]
    )
    total = part.mean(axis=1)
    contrast = total / background
    good = inside & (total > 0) & (contrast >= np.median(contrast)) & (contrast > 3)
    if good.sum() < 4:
        return None
    shape = np.median(part[good] / total[good, None], axis=0)
    return np.asarray(np.maximum(shape / max(shape.mean(), 1e-9), 0), dtype=np.float32)


def _shape_begins(shape: Singles, early: int) -> float:
    """Return where a learnt shape leaves the floor, in bins after its zero (often negative)."""
    floor = shape[: max(1, early // 2)].mean()
    over = shape > max(4 * float(floor), 1e-4 * float(shape.max()))
    body = int(np.argmax(shape > 0.2 * shape.max()))
    below = np.flatnonzero(~over[: body + 1])
    return float((below[-1] + 1 if len(below) else 0) - early)


def levels(cut: Windows, start_s: Floats) -> Floats:
    """Return the RMS of the first 10 ms, dB, less what was sounding before.

    Parameters
    ----------
    start_s : shape (n_hits,), where each begins, seconds from the zero of its window

    Returns
    -------
    shape (n_hits,), dB re full scale
    """
    rate = cut.rate_hz
    square = np.cumsum(np.pad(cut.sound.astype(np.float64) ** 2, ((0, 0), (1, 0))), axis=1)
    last = cut.sound.shape[1]
    row = np.arange(len(square))

    def mean_between(from_s: Floats, to_s: Floats) -> Floats:
        a = np.clip(np.round(cut.zero + from_s * rate).astype(np.intp), 0, last)
        b = np.clip(np.round(cut.zero + to_s * rate).astype(np.intp), 0, last)
        return np.asarray((square[row, b] - square[row, a]) / np.maximum(b - a, 1))

    now = mean_between(start_s, start_s + _LEVEL_S)
    just = mean_between(start_s - 4.5e-3, start_s - 0.5e-3)
    earlier = mean_between(start_s - 12e-3, start_s - 4.5e-3)
    # A tail falls; what it will still hold over the next 10 ms is read off its own fall.
    fall = np.clip((just / np.maximum(earlier, 1e-20)) ** (7.5 / 5.75), 0.3, 1.0)
    tail = just * fall
    return np.asarray(10 * np.log10(np.maximum(now - tail, now * 0.02) + 1e-16))
