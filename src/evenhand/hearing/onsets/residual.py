"""Look for a hit where one is due, in what linear prediction leaves of the sound.

What rings on can be foretold from what rang before, and a new blow cannot. So the sound ahead of each due
time is modelled (autoregression, the covariance method; Makhoul 1975, "Linear prediction: a tutorial
review"), and the model is taken off what follows: a soft blow stands out of the rest that lay well under
the ring. What is left over is weighed as in ``template``: energies in cells are exponential about tail +
gain x the take's own attack, and every trial start is judged on the same cells. The tail falls on as it fell.

Conventions: times in seconds; a window runs from ``BEFORE_S`` before each due time to ``AFTER_S`` after it,
in cells of .5 ms; energies mean squares; likelihoods in nats.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from evenhand.arrays import ArrayTable, Floats, Indices, Singles, medians
from evenhand.hearing.onsets.bands import peak_between, rows
from evenhand.take import Samples

_RATE_HZ, _ORDER = 8000, 24
_CELL = 4  # samples
_CELL_S = _CELL / _RATE_HZ
BEFORE_S, AFTER_S = 0.100, 0.060
_LEARNT_FROM_S, _LEARNT_TO_S = 0.085, 0.012  # before a due time: the tail that is modelled
_AFTER_BLOW_S = 0.004  # and not sooner after the blow before
_SHORTEST_S = 0.016  # of a tail that is modelled
_EDGE = 0.8  # of the band, from where it falls to nothing
_RIDGE = 1e-5  # of the mean energy
REACH_S = 0.020  # a hit is looked for so far to either side of where it is due
_JUDGED_S = 0.030  # after it: the sound that tells
_BLOW_S, _UNTIL_NEXT_S = 0.012, 0.008  # a hit begins so far after another, and before the next
_NEXT_BEGINS_S = 0.003
_FASTEST_FALL = 0.05  # of a tail, nats a cell
_BODY = 10  # cells; templates are 1 in the mean of them
_FLOOR_BLOCKS = 12  # of 5 ms: a tail falls no lower than the quietest of them
_GAINS = (10.0 ** (0.3 * np.arange(-2, 14))).astype(np.float32)
_NEAR_S = 0.0025  # times so near the best are as good as it
_AT_ONCE = 400
_NEVER = 1e6
_SILENCE = np.float32(1e-16)


@dataclass(frozen=True, slots=True)
class Due(ArrayTable):
    """Moments at which hits are due, shape (n,) each: ``times_s``, how loosely (``spread_s``).

    ``before_s`` and ``after_s`` are the hits before and after, infinite where there is none.
    """

    times_s: Floats
    spread_s: Floats
    before_s: Floats
    after_s: Floats


@dataclass(frozen=True, slots=True)
class Looked(ArrayTable):
    """What was found where hits were due, shape (n,) each.

    ``times_s``: the likeliest start. ``gained``: nats by which a hit there explains the sound better than the
    tail alone, less what its distance from where it was due costs. ``sure``: how likely it began within
    2.5 ms of there, if anywhere; ``error_s`` its standard error. ``loudness``, ``tail``: energies of the hit,
    and of what it lies on.
    """

    times_s: Floats
    gained: Floats
    sure: Floats
    error_s: Floats
    loudness: Floats
    tail: Floats


class _Rest(NamedTuple):
    """What is left over around each due time, and the tail foreseen there, shape (n, n_cells) both."""

    energy: Singles
    tail: Singles


class Looking:
    """Looks for hits that sound as others of a take do."""

    def __init__(self, samples: Samples, rate_hz: int, plain: Due) -> None:
        """Learn how hits begin from some that are plain to hear.

        Parameters
        ----------
        samples : shape (n,), mono, full scale 1.0
        plain : when they begin
        """
        self._samples, self._rate_hz = samples, rate_hz
        rest = self._rest(plain)
        first = round(BEFORE_S / _CELL_S)
        columns = np.arange(rest.energy.shape[1] - first)
        own = rest.energy[:, first:] - rest.energy[:, first - 12 : first - 1].mean(axis=1, keepdims=True)
        self.loudness = np.maximum(own[:, :_BODY].mean(axis=1), _SILENCE)
        until = np.minimum(plain.after_s - plain.times_s, 1.0) / _CELL_S
        own = np.where(columns < until[:, None] - 4, own / self.loudness[:, None], np.nan)
        template = np.maximum(np.nan_to_num(_middles(own)), 1e-3)
        self._template = (template / template[:_BODY].mean()).astype(np.float32)

    def _rest(self, due: Due) -> _Rest:
        """Take what rings on off the sound around each due time."""
        n_parts = max(1, -(-len(due) // _AT_ONCE))
        parts = [self._foretold(due.only(part)) for part in np.array_split(np.arange(len(due)), n_parts)]
        return _Rest(*(np.concatenate(each) for each in zip(*parts, strict=True)))

    def _foretold(self, due: Due) -> _Rest:
        sound = _slowly_sampled(self._samples, self._rate_hz, due.times_s)
        latest = round((BEFORE_S - _LEARNT_TO_S) * _RATE_HZ)
        since_s = due.before_s + _AFTER_BLOW_S - due.times_s
        since_s = np.clip(since_s, -_LEARNT_FROM_S, -_SHORTEST_S - _LEARNT_TO_S)
        earliest = np.round((since_s + BEFORE_S) * _RATE_HZ).astype(np.intp)
        energy = _cells(_left_over(sound, earliest, latest))
        return _Rest(energy, _tail(energy, earliest // _CELL, latest // _CELL))

    def look(self, due: Due) -> Looked:
        """Look for a hit where each is due."""
        rest = self._rest(due)
        zero, reach = round(BEFORE_S / _CELL_S), round(REACH_S / _CELL_S)
        trials = np.arange(zero - reach, zero + reach + 1)
        first, last = trials[0] - 2, zero + round(_JUDGED_S / _CELL_S)
        until = np.minimum(due.after_s - _NEXT_BEGINS_S - due.times_s, 1.0) / _CELL_S + zero
        heard = np.clip(until.astype(np.intp), zero - reach, last) - first
        seen = rest.energy[:, first:last] / rest.tail[:, first:last]
        seen *= np.arange(last - first) < heard[:, None]
        said = self._scores(seen, trials - first, heard)
        at_s = (trials - zero) * _CELL_S
        off = 0.5 * (at_s / due.spread_s[:, None]) ** 2
        starts = due.times_s[:, None] + at_s
        shut = (starts < due.before_s[:, None] + _BLOW_S) | (starts > due.after_s[:, None] - _UNTIL_NEXT_S)
        total = said.max(axis=1) - off - np.where(shut, _NEVER, 0.0)
        best, row = total.argmax(axis=1), np.arange(len(total))
        weight = np.exp(total - total.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        apart = np.abs(at_s[best][:, None] - at_s)
        tail = rest.tail[row, trials[best]]
        return Looked(
            due.times_s + (trials[best] - zero + peak_between(total, best)) * _CELL_S,
            total[row, best].astype(np.float64),
            (weight * (apart < _NEAR_S)).sum(axis=1),
            np.sqrt((weight * (apart**2 + _CELL_S**2 / 12)).sum(axis=1)),
            (_GAINS[said[row, :, best].argmax(axis=1)] * tail).astype(np.float64),
            tail.astype(np.float64),
        )

    def _scores(self, seen: Singles, trials: Indices, heard: Indices) -> Singles:
        """Return the nats by which a hit of every gain explains the sound at every trial start.

        ``seen`` shape (n, n_cells), energy over the tail; returns shape (n, n_gains, n_trials).
        """
        after = np.arange(seen.shape[1])[:, None] - trials
        shape = np.where(after < 0, 0, self._template[np.clip(after, 0, len(self._template) - 1)])
        variance = 1 + (shape[:, None, :] * _GAINS[:, None]).reshape(seen.shape[1], -1)
        logs = np.cumsum(np.log(variance), axis=0)
        said = seen.sum(axis=1)[:, None] - seen @ (1 / variance) - logs[heard - 1]
        return np.asarray(said.reshape(len(seen), len(_GAINS), -1))

    def would_gain(self, over_tail: Floats) -> Floats:
        """Return the nats that hits so far over the tail (ratios of energy) gain in the mean, shape (n,)."""
        ratio = over_tail[:, None] * self._template[: round(_JUDGED_S / _CELL_S)]
        return np.asarray((ratio - np.log1p(ratio)).sum(axis=1), dtype=np.float64)


def _middles(values: Singles) -> Singles:
    """Return the median of each column, NaN left out; 0 where there are fewer than three."""
    return np.array(
        [medians(c[:, None])[0] if len(c) > 2 else 0.0 for c in (v[~np.isnan(v)] for v in values.T)],
        dtype=np.float32,
    )


def _slowly_sampled(samples: Samples, rate_hz: int, times_s: Floats) -> Singles:
    """Return the sound around each time at 8 kHz, shape (n, n_samples)."""
    length = round((BEFORE_S + AFTER_S) * rate_hz)
    cut = rows(samples, np.round((times_s - BEFORE_S) * rate_hz).astype(np.intp), length)
    spectra = np.fft.rfft(cut - cut.mean(axis=1, keepdims=True), axis=1, norm="forward")
    size = round((BEFORE_S + AFTER_S) * _RATE_HZ)
    slow = spectra[:, : size // 2 + 1] * _edge(size)
    return np.asarray(np.fft.irfft(slow, size, axis=1, norm="forward"), dtype=np.float32)


@lru_cache(maxsize=1)
def _edge(size: int) -> Singles:
    """Return a soft edge towards 4 kHz on rfft bins: a sharp one would ring ahead of the next blow."""
    share = np.linspace(0, 1, size // 2 + 1)
    return np.cos(0.5 * np.pi * np.clip((share - _EDGE) / (1 - _EDGE), 0, 1)).astype(np.float32)


def _left_over(sound: Singles, earliest: Indices, latest: int) -> Singles:
    """Foretell every sample of each row from those before it, and return what is left.

    Parameters
    ----------
    sound : shape (n, n_samples)
    earliest, latest : shape (n,) and one for all: the samples that the model is made from

    Returns
    -------
    shape (n, n_samples)
    """
    past = sliding_window_view(sound, _ORDER + 1, axis=1)
    first = max(int(earliest.min()) - _ORDER, 0)
    part = past[:, first : latest - _ORDER]
    inside = np.arange(first + _ORDER, latest) >= earliest[:, None]
    both = np.matmul((part * inside[:, :, None]).transpose(0, 2, 1), part)
    among, with_next = both[:, :-1, :-1].copy(), both[:, :-1, -1:]
    steps = np.arange(_ORDER)
    among[:, steps, steps] += _RIDGE * among[:, steps, steps].mean(axis=1, keepdims=True) + np.float32(1e-12)
    model = np.linalg.solve(among, with_next)
    out = np.zeros_like(sound)
    out[:, _ORDER:] = sound[:, _ORDER:] - np.matmul(past[:, :, :-1], model)[:, :, 0]
    return out


def _cells(sound: Singles) -> Singles:
    """Return the mean square of each cell, shape (n, n_cells)."""
    n_cells = sound.shape[1] // _CELL
    square = sound[:, : n_cells * _CELL] ** 2
    return np.asarray(square.reshape(len(sound), n_cells, _CELL).mean(axis=2))


def _tail(energy: Singles, earliest: Indices, latest: int) -> Singles:
    """Foresee how what is left over goes on, shape (n, n_cells): from its later half, and as it fell."""
    columns = np.arange(energy.shape[1])
    middle = (earliest + latest) // 2
    later = (columns >= middle[:, None]) & (columns < latest)
    early = (columns >= earliest[:, None]) & (columns < middle[:, None])
    before, after = ((energy * part).sum(axis=1) / part.sum(axis=1) + _SILENCE for part in (early, later))
    fell = np.clip(np.log(after / before) / ((latest - earliest) / 2), -_FASTEST_FALL, 0)
    fall = 0.5 * fell + 0.5 * medians(fell[:, None])[0]
    since = columns - (middle + latest)[:, None] / 2
    going_on = after[:, None] * np.exp(np.clip(fall[:, None] * since, -3, 3))
    first = latest - 2 * _BODY
    blocks = energy[:, first : first + _FLOOR_BLOCKS * _BODY].reshape(len(energy), -1, _BODY)
    floor = blocks.mean(axis=2).min(axis=1)
    return np.asarray(np.maximum(going_on, floor[:, None]), dtype=np.float32)
