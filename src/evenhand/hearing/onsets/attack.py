"""Time each hit by the shape of its attack, and weigh its loudness.

Conventions: ``samples`` shape (n,), full scale 1.0; hit times shape (n_hits,),
seconds from sample 0. A sound starts where it crosses 1 % of its peak after a 200 Hz
highpass, interpolated between samples. Noise and earlier tails often hide that crossing, and it
lies elsewhere for another microphone; so the take's own attack is fitted to every hit alike
(``template``), and the crossings that are seen only say, by their median, how far from the fitted
starts sounds of this take begin. Where 1 % is hidden, the lowest share of the peak that is seen leads back
to it by how long other sounds need from one share to the next. A hit's level is the RMS of its
first 10 ms above 200 Hz, dB re full scale, without noise and tails.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import ArrayTable, Bools, Floats, Indices, Singles, median
from evenhand.hearing.onsets.bands import highpass_response, quick_length, rows
from evenhand.hearing.onsets.ringing import ringing
from evenhand.hearing.onsets.template import BandEnergies, fit_starts
from evenhand.take import Samples

_BEFORE_S, _AFTER_S = 0.026, 0.030
_HIGHPASS_HZ = 200.0
_SETTLES_S = 0.006  # the filter does, before a window begins
_LEVEL_S = 0.010
_RINGS = 0.01  # share of a hit's energy from which what sounds just before is carried on under it
_TAIL = 0.3  # of what that leaves, in the mean of the next 10 ms: taking more off adds more noise
_LEAST_NEW = 0.1  # of what is heard then: that much is the hit's own
SHARES = (0.01, 0.02, 0.04, 0.08, 0.16, 0.32)  # of the peak
_ABOVE = 1.5  # a share is seen where it stands so far above all that was before
_PEAK_S = 0.020
_BACK_S, _ON_S = 0.0028, 0.0045
_QUIET_S = (0.0090, 0.0035)
_ENOUGH = 5  # hits that show how long sounds need from one share to the next
_BATCH = 600  # hits timed at once: bounds memory


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

    They have ``times_s``, ``levels_db``, ``fit_gain`` (nats by which the attack's template explains
    it), ``errors_s`` (standard errors of the times), all (n_hits,).
    """

    times_s: Floats
    levels_db: Floats
    fit_gain: Floats
    errors_s: Floats


def highpassed(samples: Samples, rate_hz: int, times_s: Floats) -> Windows:
    """Cut and highpass the sound around each hit.

    Parameters
    ----------
    samples : shape (n,), full scale 1.0
    times_s : shape (n_hits,), where each is thought to begin, seconds
    """
    return _highpassed(*_spectra(samples, rate_hz, times_s), rate_hz)


def _spectra(
    samples: Samples, rate_hz: int, times_s: Floats
) -> tuple[NDArray[np.complexfloating], int, Indices]:
    """Return the spectrum of each hit's window with its lead, its size, and the windows' first samples."""
    used, zero = _used_and_zero(rate_hz)
    first = np.round(times_s * rate_hz).astype(np.intp) - zero
    cut = rows(samples, first - used.start, used.stop)
    size = quick_length(used.stop)
    filled = np.zeros((len(cut), size), dtype=np.float32)  # a transform that fills up itself is slow
    filled[:, : used.stop] = cut - cut[:, :1]
    return np.fft.rfft(filled, axis=1, norm="forward"), size, first


def _highpassed(spectra: NDArray[np.complexfloating], size: int, first: Indices, rate_hz: int) -> Windows:
    """Return highpassed windows from their spectra, the lead left off."""
    used, zero = _used_and_zero(rate_hz)
    high = spectra * (np.float32(size) * highpass_response(size, rate_hz, _HIGHPASS_HZ))
    sound = np.fft.irfft(high, size, axis=1)[:, used]
    return Windows(np.asarray(sound, dtype=np.float32), first, zero, rate_hz)


def _used_and_zero(rate_hz: int) -> tuple[slice, int]:
    """Return which samples of a cut are its window, its lead left off, and the window's zero."""
    lead, zero = int(_SETTLES_S * rate_hz), int(_BEFORE_S * rate_hz)
    return slice(lead, lead + zero + int(_AFTER_S * rate_hz)), zero


def time_hits(samples: Samples, rate_hz: int, rough_s: Floats, disturbed: Bools | None = None) -> TimedHits:
    """Time and weigh each hit that was roughly found.

    Parameters
    ----------
    samples : shape (n,), the take, full scale 1.0
    rough_s : shape (n_hits,), seconds, rising; each within about 8 ms of its hit
    disturbed : shape (n_hits,), hits whose rise may be another sound's, such as a click's
    """
    if len(rough_s) == 0:
        return TimedHits(*np.zeros((4, 0)))
    doubtful = np.zeros(len(rough_s), dtype=bool) if disturbed is None else disturbed
    n_batches = -(-len(rough_s) // _BATCH)
    batches = zip(np.array_split(rough_s, n_batches), np.array_split(doubtful, n_batches), strict=True)
    return TimedHits.joined([_time_batch(samples, rate_hz, rough, remark) for rough, remark in batches])


def _time_batch(samples: Samples, rate_hz: int, rough_s: Floats, disturbed: Bools) -> TimedHits:
    """Time and weigh some hits, with the attack they share."""
    spectra, size, first = _spectra(samples, rate_hz, rough_s)
    used, zero = _used_and_zero(rate_hz)
    fitted = fit_starts(BandEnergies.of(spectra, size, used, zero, rate_hz), rough_s)
    cut = _highpassed(spectra, size, first, rate_hz)
    until_next = np.diff(rough_s + fitted.start_s, append=np.inf)
    rise = find_rise(cut.sound, zero, rate_hz, fitted.start_s, until_next).without(disturbed)
    start = fitted.start_s + lag(rise, fitted.start_s)
    times = np.maximum((first + zero) / rate_hz + start, 0.0)
    return TimedHits(times, levels(cut, start), fitted.gained, fitted.error_s)


@dataclass(frozen=True, slots=True)
class Rise:
    """Where each share of the peak is crossed, shape (n_hits, n_shares), s; nan where hidden."""

    crossed_s: Floats

    def without(self, hits: Bools) -> Rise:
        """Return the same with nothing seen of some hits, shape (n_hits,)."""
        return Rise(np.where(hits[:, None], np.nan, self.crossed_s))


def find_rise(sound: Singles, zero: int, rate_hz: int, start_s: Floats, until_next_s: Floats) -> Rise:
    """Find the crossings of each share that can be seen.

    Parameters
    ----------
    sound : shape (n_hits, length), highpassed
    zero : the column that times count from
    start_s, until_next_s : shape (n_hits,), where each was fitted to start, and the time to the next, seconds
    """
    loud = np.abs(sound)
    begin = zero + np.round(start_s * rate_hz).astype(np.intp)
    span = np.minimum(until_next_s - 2e-3, _PEAK_S) * rate_hz
    after = _columns(loud, begin - int(1e-3 * rate_hz), int((_PEAK_S + 1e-3) * rate_hz))
    wide = np.arange(after.shape[1])[None, :] <= (span + 1e-3 * rate_hz)[:, None]
    peak = np.where(wide, after, 0).max(axis=1)
    quiet_length = int((_QUIET_S[0] - _QUIET_S[1]) * rate_hz)
    quiet = _columns(loud, begin - int(_QUIET_S[0] * rate_hz), quiet_length).max(axis=1)
    first = begin - int(_BACK_S * rate_hz)
    near = _columns(loud, first, int((_BACK_S + _ON_S) * rate_hz))
    crossed = np.full((len(loud), len(SHARES)), np.nan)
    row = np.arange(len(loud))
    for column, share in enumerate(SHARES):
        level = (share * peak)[:, None]
        over = near >= level
        at = over.argmax(axis=1)
        low, high = near[row, np.maximum(at - 1, 0)], near[row, at]
        part = np.clip((level[:, 0] - low) / np.maximum(high - low, 1e-12), 0, 1)
        seen = over.any(axis=1) & (at > 0) & (level[:, 0] > _ABOVE * quiet) & (peak > 0)
        crossed[seen, column] = ((first + at - 1 + part - zero) / rate_hz)[seen]
    return Rise(crossed)


def _columns(loud: Singles, first: Indices, length: int) -> Singles:
    """Return so many columns of each row from its own first column on, kept inside."""
    columns = np.clip(first[:, None] + np.arange(length), 0, loud.shape[1] - 1)
    return np.take_along_axis(loud, columns, axis=1)


def lag(rise: Rise, fitted_s: Floats) -> float:
    """Return how far from where hits were fitted to start they cross 1 % of their peak, by the median.

    Where no hit shows that, the lowest shares that are seen lead back to it.

    Parameters
    ----------
    fitted_s : shape (n_hits,), seconds after the windows' zero, as the crossings are
    """
    seen = ~np.isnan(rise.crossed_s)
    some = seen[:, 0] if seen[:, 0].any() else seen.any(axis=1)
    if not some.any():
        return 0.0
    lowest = seen[some].argmax(axis=1)
    own = rise.crossed_s[some, lowest] - delays(rise.crossed_s)[lowest]
    return median(own - fitted_s[some])


def delays(crossed_s: Floats) -> Floats:
    """Return how long after the lowest share each is crossed, from hits that show two neighbours.

    Parameters
    ----------
    crossed_s : shape (n_hits, n_shares), seconds; NaN where hidden

    Returns
    -------
    shape (n_shares,), seconds
    """
    delay = np.zeros(crossed_s.shape[1])
    for column in range(1, len(delay)):
        step = crossed_s[:, column] - crossed_s[:, column - 1]
        step = step[~np.isnan(step)]
        delay[column] = delay[column - 1] + (float(np.median(step)) if len(step) >= _ENOUGH else 0.0)
    return delay


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
    last = cut.sound.shape[1]
    square = np.zeros((len(cut.sound), last + 1))
    np.cumsum(cut.sound**2, axis=1, dtype=np.float64, out=square[:, 1:])
    row = np.arange(len(square))

    def mean_between(from_s: Floats, to_s: Floats) -> Floats:
        a = np.clip(np.round(cut.zero + from_s * rate).astype(np.intp), 0, last)
        b = np.clip(np.round(cut.zero + to_s * rate).astype(np.intp), 0, last)
        return np.asarray((square[row, b] - square[row, a]) / np.maximum(b - a, 1))

    now = mean_between(start_s, start_s + _LEVEL_S)
    just = mean_between(start_s - 4.5e-3, start_s - 0.5e-3)
    new = now.copy()
    rings = np.flatnonzero(just > _RINGS * now)
    if len(rings):
        ring = ringing(cut.sound[rings], cut.zero, rate, start_s[rings], _LEVEL_S)
        new[rings] -= ring.explained
        just[rings] = np.maximum(just[rings] - ring.own, 0)
    return np.asarray(10 * np.log10(np.maximum(new - _TAIL * just, _LEAST_NEW * now) + 1e-16))
