"""The tempo ceiling of an exercise over the weeks, and when it may reach a wished tempo.

Conventions: ``x`` in days from the first take; tempos as natural logarithms inside. A repetition's chance of
control falls with its tempo as in ``estimate``. The ceiling follows a trajectory from the first day to the
last, straight in its logarithm, growing a little steeper, or flattening out by one of a few shapes; a day's
own ceiling strays from it by the between-day spread. All unknowns lie on a grid, weighed by all repetitions
(a posterior; days are summed out one by one). Nothing is said of days further off than as long again as
what was seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from evenhand.arrays import Floats
from evenhand.music.beat import felt_tempo
from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.progress.ceiling.estimate import CONTROL_AT_CEILING, ceiling_of_both
from evenhand.progress.history import PastTake

FEWEST_DAYS, FEWEST_REPETITIONS = 4, 24
SHORTEST_SPAN_DAYS = 7.0
HORIZON = 2.0  # spans of what was seen: further than that nothing is said
BENDS = np.array(
    [-0.7, 1e-6, 0.7, 2.0, 5.0]
)  # exponents over the span: 0 straight, 2 and more a learning curve
BEND_WEIGHTS = np.array([0.15, 0.35, 0.2, 0.2, 0.1])
WIDTHS = np.geomspace(0.012, 0.15, 8)
LAPSES, LAPSE_WEIGHTS = np.array([0.0025, 0.02, 0.06]), np.array([0.3, 0.4, 0.3])
FORMS = np.array([0.02, 0.04, 0.08])  # spread of the day's form, as a share
FORM_WEIGHTS = np.array([0.4, 0.4, 0.2])
ROOM = 1.6  # ceilings are looked for so much slower and faster than what was tried
BEYOND = 1.3  # an interval that goes so far past what was tried is bounded by no repetition
_STEP = 0.012
_COARSE, _FINE = 23, 37
_LIGHT = 1e-4
_LEAST_GAIN = 1e-9
_LOG_ODDS = float(np.log(CONTROL_AT_CEILING / (1 - CONTROL_AT_CEILING)))


@dataclass(frozen=True)
class Tries:
    """Repetitions: day, tempo and whether it was in control, shape (n,)."""

    x: Floats
    tempo_bpm: Floats
    controlled: Floats


@dataclass(frozen=True)
class CeilingPosterior:
    """Weights over (start, end, bend), sum 1; starts and ends are logarithms, at the first and last day."""

    starts: Floats
    ends: Floats
    weights: Floats  # shape (n_starts, n_ends, n_bends)
    first: float
    last: float
    tried: tuple[float, float]  # slowest and fastest, logarithms

    def at(self, x: float) -> tuple[float, tuple[float, float]]:
        """Return the ceiling at a day with its 95 % range, bpm."""
        low, middle, high = self._quantiles(self._trajectory(x), (0.025, 0.5, 0.975))
        return float(np.exp(middle)), (float(np.exp(low)), float(np.exp(high)))

    def bounded(self, ci95: tuple[float, float]) -> bool:
        """Tell whether the tempos tried bound an interval."""
        slowest, fastest = np.exp(self.tried)
        return bool(slowest / BEYOND < ci95[0] and ci95[1] < fastest * BEYOND)

    def gain(self) -> tuple[float, tuple[float, float]]:
        """Return by how much the logarithm of the ceiling rose from the first day to the last."""
        gains = np.broadcast_to((self.ends[None, :] - self.starts[:, None])[..., None], self.weights.shape)
        low, middle, high = self._quantiles(gains, (0.025, 0.5, 0.975))
        return middle, (low, high)

    def chance_over(self, tempo_bpm: float) -> float:
        """Return how likely the ceiling of the last day lies at a tempo or over it."""
        return float(self.weights.sum(axis=(0, 2))[self.ends >= np.log(tempo_bpm)].sum())

    def days_to(self, tempo_bpm: float) -> tuple[float, float, float]:
        """Return the days (2.5 %, half, 97.5 %) at which a tempo is reached; infinite where never.

        A trajectory that falls has reached it at the first day if it lies over it at the last, else never.
        """
        wished, span = np.log(tempo_bpm), self.last - self.first
        gain = (self.ends[None, :] - self.starts[:, None])[..., None]
        rises = gain > _LEAST_GAIN
        share = np.maximum((wished - self.starts)[:, None, None], 0.0) / np.where(rises, gain, 1.0)
        left = 1 + share * np.expm1(-BENDS)  # of the way to where the trajectory would level off
        on_its_way = -np.log(np.maximum(left, 1e-300)) / BENDS * span
        falls = np.where(self.ends[None, :, None] >= wished, 0.0, np.inf)
        x = self.first + np.where(rises, np.where(left > 0, on_its_way, np.inf), falls)
        low, middle, high = self._quantiles(
            np.broadcast_to(x, self.weights.shape), (0.025, 0.5, 0.975), steps=True
        )
        return low, middle, high

    def _trajectory(self, x: float) -> Floats:
        span = self.last - self.first
        part = np.expm1(-BENDS * (x - self.first) / span) / np.expm1(-BENDS)
        return np.asarray(
            self.starts[:, None, None] + (self.ends[None, :, None] - self.starts[:, None, None]) * part
        )

    def _quantiles(
        self, values: Floats, shares: tuple[float, ...], *, steps: bool = False
    ) -> tuple[float, ...]:
        order = np.argsort(values.ravel())
        ordered, weights = values.ravel()[order], self.weights.ravel()[order]
        cumulative = np.cumsum(weights)
        if steps:
            places = np.minimum(np.searchsorted(cumulative, shares), len(ordered) - 1)
            return tuple(float(each) for each in ordered[places])
        return tuple(float(each) for each in np.interp(shares, cumulative - weights / 2, ordered))


def ceiling_posterior(tries: Tries) -> CeilingPosterior | None:
    """Weigh the trajectories a ceiling can have taken; None where there are too few days or repetitions.

    Parameters
    ----------
    tries
        Repetitions of one exercise, in order of their day.
    """
    days = np.unique(tries.x)
    span = float(days[-1] - days[0]) if len(days) else 0.0
    if len(days) < FEWEST_DAYS or len(tries.x) < FEWEST_REPETITIONS or span < SHORTEST_SPAN_DAYS:
        return None
    x = np.log(tries.tempo_bpm)
    low, high = float(x.min() - np.log(ROOM)), float(x.max() + np.log(ROOM))
    grid = np.arange(low, high + _STEP, _STEP)
    tables = _tables(tries, days, grid)
    parts = (days - days[0]) / span
    starts = ends = np.linspace(low, high, _COARSE)
    logs = _log_weights(tables, parts, grid, starts, ends)
    heavy = logs.max(axis=(1, 2, 3)) > logs.max() + np.log(_LIGHT)
    weights = _summed(logs)
    starts, ends = _zoomed(starts, weights.sum(axis=(1, 2))), _zoomed(ends, weights.sum(axis=(0, 2)))
    weights = _summed(_log_weights(tables[heavy], parts, grid, starts, ends))
    return CeilingPosterior(
        starts, ends, weights, float(days[0]), float(days[-1]), (float(x.min()), float(x.max()))
    )


def _tables(tries: Tries, days: Floats, grid: Floats) -> Floats:
    """Return each day's log likelihood of the trajectory's ceiling, its own form summed out.

    Shape (n_models, n_days, n_grid), a model being a width, a lapse rate and a spread of form,
    with its prior in the first day.
    """
    shape = (len(days), len(WIDTHS), len(LAPSES), len(FORMS), len(grid))
    out = np.empty(shape)
    blurs = np.array([_blur(grid, form) for form in FORMS])
    for place, day in enumerate(days):
        of_it = tries.x == day
        at, which = np.unique(np.log(tries.tempo_bpm[of_it]), return_inverse=True)
        well = np.bincount(which, weights=tries.controlled[of_it])
        not_well = np.bincount(which) - well
        z = (at[:, None, None] - grid) / WIDTHS[:, None] - _LOG_ODDS  # (n_tempos, n_widths, n_grid)
        falling = 0.5 * (1.0 - np.tanh(0.5 * z))[:, :, None, :]
        chances = np.clip((1 - LAPSES)[:, None] * falling, 1e-6, 1 - 1e-6)
        logs = np.tensordot(well, np.log(chances), axes=1) + np.tensordot(
            not_well, np.log1p(-chances), axes=1
        )
        top = logs.max()
        likely = np.einsum("fgh,wlh->wlfg", blurs, np.exp(logs - top), optimize=True)
        out[place] = top + np.log(np.maximum(likely, 1e-300))
    out[0] += np.log(LAPSE_WEIGHTS)[:, None, None] + np.log(FORM_WEIGHTS)[:, None]
    return out.reshape(len(days), -1, len(grid)).transpose(1, 0, 2)


def _blur(grid: Floats, form: float) -> Floats:
    """Return the matrix that sums out a day's form, its edges kept level."""
    kernel = np.exp(-0.5 * ((grid[:, None] - grid[None, :]) / form) ** 2)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True))


def _log_weights(tables: Floats, parts: Floats, grid: Floats, starts: Floats, ends: Floats) -> Floats:
    """Weigh every trajectory under every model; shape (n_models, n_starts, n_ends, n_bends)."""
    logs = np.empty((len(tables), len(starts), len(ends), len(BENDS)))
    n_grid = len(grid)
    values = tables.reshape(len(tables), -1)
    rises = np.diff(tables, axis=-1, append=0.0).reshape(len(tables), -1)
    for bend_place, bend in enumerate(BENDS):
        part = np.expm1(-bend * parts) / np.expm1(-bend)
        trajectory = starts[:, None, None] * (1 - part) + ends[None, :, None] * part
        place = np.clip((trajectory - grid[0]) / _STEP, 0, n_grid - 1.001)
        whole = place.astype(np.intp)
        left = place - whole
        of_day = whole + n_grid * np.arange(len(parts))
        at, rise = np.empty(left.shape), np.empty(left.shape)
        for model in range(len(tables)):  # into the same two arrays: this is where the time goes
            np.take(values[model], of_day, out=at, mode="clip")
            np.take(rises[model], of_day, out=rise, mode="clip")
            rise *= left
            at += rise
            at.sum(axis=-1, out=logs[model, :, :, bend_place])
    return np.asarray(logs + np.log(BEND_WEIGHTS))


def _summed(logs: Floats) -> Floats:
    """Sum the models out; shape (n_starts, n_ends, n_bends), sum 1."""
    weights = np.exp(logs - logs.max()).sum(axis=0)
    return np.asarray(weights / weights.sum())


def _zoomed(values: Floats, weights: Floats) -> Floats:
    """Return a finer grid over where the weight lies."""
    heavy = np.flatnonzero(weights > _LIGHT * weights.max())
    low, high = values[max(heavy[0] - 1, 0)], values[min(heavy[-1] + 1, len(values) - 1)]
    return np.linspace(low, high, _FINE)


def tries_of(rows: Sequence[tuple[float, float, bool]]) -> Tries:
    """Gather repetitions: day, tempo, whether in control."""
    x, tempo, controlled = (np.array(column, dtype=np.float64) for column in zip(*rows, strict=True))
    return Tries(x, tempo, controlled)


NOW_DAYS = 14  # what a ceiling is now rests on so many days, as a stage's conditions do (a convention)


def ceiling_now(takes: Sequence[PastTake], beat: Fraction | None = None) -> TempoCeiling | None:
    """Return the ceiling of one exercise now, on a beat or the felt one; None where nothing was judged.

    It rests on the takes of the newest two weeks. This is the one that is said, planned by and shown.
    """
    newest = max((take.day for take in takes if take.tried), default=None)
    if newest is None:
        return None
    lately = [take for take in takes if (newest - take.day).days < NOW_DAYS]
    beat = beat or felt_tempo(takes[-1].exercise, takes[-1].tempo).beat
    tried = [
        replace(each, tempo_bpm=each.tempo_bpm * float(take.tempo.beat / beat))
        for take in lately
        for each in take.tried
    ]
    return ceiling_of_both(tried, beat)
