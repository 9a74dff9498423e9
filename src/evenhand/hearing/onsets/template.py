"""Fit the take's own attack to the energy around each hit, from a coarse grid of trial starts to a fine one.

Four bands have each their template: what their energy does from a little before a hit's start until well
into its body, learnt from the louder hits. Every trial start is judged on the same cells of a hit, or late
ones would win by seeing less; so the template is long enough to cover them all. Energies in cells are taken
as exponential about background + gain x template (the likelihood of a power spectrum; Whittle 1953), with
the best gain of a grid for each band: the fit of all hits and trials is one matrix product.

What lies far below a hit's loudest cell counts as background: each stage looks deeper, at fewer trials. So a
click's rest ahead of a hit misleads none, and soft hits lock onto the feature that loud ones do.

How sure a start is follows from all trials, each as likely as its nats say. Cells hang together, and no
template is quite a hit's own, so several nats count as one. Each stage knows of the starts that lie within
its reach; what coarser stages leave likely beyond that is added.

Conventions: ``energy`` shape (n_bands, n_hits, n_cells), mean squares; times in seconds after the zero of a
hit's window.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import Floats, Indices, Singles, medians
from evenhand.hearing.onsets.bands import highpass_response, lowpass_response, peak_between

_BANDS_HZ = ((150, 700), (700, 2200), (2200, 6000), (6000, 16000))
_CELL_HZ = 24000
_BEND = 8.0  # nats below its best trial at which a band's say goes on with the logarithm only
_GAIN_STEP = 0.6  # decades
_GAINS = (10.0 ** (_GAIN_STEP * np.arange(11))).astype(np.float32)  # over the background
_LOUDER = 0.6  # share of the hits that a template is learnt from
_ENOUGH, _OVER_NOISE = 4, 3.0  # hits to learn from, and how far they stand over the background
_BODY_S = 0.005  # templates are 1 in the mean of it
_DECAYS_S = 0.012  # of the template to begin with
_BACKGROUND_S = (0.007, 0.0015)  # before the earliest trial
_ROUGH_S = 0.003  # how far off a rough time usually is
_AFTER_LAST_S = 0.005  # no hit begins sooner after another
_NEVER = 1e3
_MISFIT_S = 2.5e-5  # two microphones on one drum differ by 0.03 ms: no template is quite a hit's own
_KEPT = 2  # sums of cells: of a stage and of what is quiet before
_FAINTEST = np.float32(1e-9)  # of the loudest hit: below it, as good as silence
_SILENCE = np.float32(1e-30)


class FitStage(NamedTuple):
    """Trial starts from ``back_s`` before to ``on_s`` after where each hit is known to be, every ``cell_s``.

    They are judged by the sound from ``early_s`` before the first to ``length_s`` after the last, but not
    later than ``next_s`` before the next hit. ``floor`` is the share of the loudest cell below which all is
    background. ``rounds`` are fits, the template learnt anew before each. So many nats as ``hang_together``
    count as one.
    """

    cell_s: float
    back_s: float
    on_s: float
    early_s: float
    length_s: float
    next_s: float
    floor: float
    rounds: int
    hang_together: float


FIT_STAGES = (
    FitStage(0.5e-3, 0.011, 0.007, 0.002, 0.008, 0.002, 1e-2, 3, 3.0),
    FitStage(125e-6, 0.0015, 0.0015, 0.0015, 0.005, 0.001, 1e-3, 1, 3.0),
    FitStage(1 / _CELL_HZ, 0.00035, 0.00035, 0.0015, 0.003, 0.001, 1e-4, 2, 8.0),
)


class FittedStarts(NamedTuple):
    """Where each hit starts, its standard error, and the nats by which the template explains it.

    All have shape (n_hits,); s, s, nats.
    """

    start_s: Floats
    error_s: Floats
    gained: Floats


class _Grid(NamedTuple):
    """A stage in cells of the windows: ``size`` of them make one of its own; the rest in its own."""

    size: int
    low: int
    high: int
    early: int
    length: int
    cell_s: float

    @property
    def template_cells(self) -> int:
        """Cells of the template from the start on: as many as the earliest trial has after it."""
        return self.high - self.low + self.length

    @property
    def cells(self) -> int:
        """Cells that are judged: from a little before the earliest trial to well after the latest."""
        return self.early + self.template_cells

    @classmethod
    def of(cls, stage: FitStage, cell_s: float) -> _Grid:
        """Return a stage's grid."""
        size = max(1, round(stage.cell_s / cell_s))
        spans_s = (stage.back_s, stage.on_s, stage.early_s, stage.length_s)
        back, on, early, length = (round(span_s / cell_s / size) for span_s in spans_s)
        return cls(size, -max(2, back), max(2, on), early, length, size * cell_s)


@dataclass(frozen=True, slots=True)
class BandEnergies:
    """The energy of each band around each hit, in short cells; ``zero`` is the cell that times count from."""

    energy: Singles
    zero: int
    cell_s: float
    _known: dict[int, Singles] = field(default_factory=dict, repr=False)

    @classmethod
    def of(
        cls, spectra: NDArray[np.complex64], size: int, used: slice, zero: int, rate_hz: int
    ) -> BandEnergies:
        """Follow the energy in windows given by their spectra.

        Parameters
        ----------
        spectra : shape (n_hits, size // 2 + 1), transforms of the windows with ``norm="forward"``
        size : samples a window
        used : the samples of a window that count
        zero : the sample, of these, that times count from
        rate_hz : samples a second
        """
        width = max(1, round(rate_hz / _CELL_HZ))
        n_cells = (used.stop - used.start) // width
        responses = _responses(size, rate_hz)
        energy = np.empty((len(responses), len(spectra), n_cells), dtype=np.float32)
        for out, response in zip(energy, responses, strict=True):
            sound = np.fft.irfft(spectra * response, size, axis=1)[:, used]
            square = sound[:, : n_cells * width] ** 2
            np.add.reduce([square[:, i::width] for i in range(width)], axis=0, out=out)
        return cls(energy, zero // width, width / rate_hz)

    def cut(self, at: Indices, first: int, n: int, size: int) -> Singles:
        """Return means of so many cells around each hit.

        Parameters
        ----------
        at : shape (n_hits,), the cells that ``first`` counts from
        first : the cell of a window's first mean
        n, size : how many means, and the cells of each

        Returns
        -------
        shape (n_bands, n_hits, n), mean squares
        """
        if size not in self._known:
            for other in list(self._known)[: 1 - _KEPT]:
                del self._known[other]  # hits of minutes take many MB
            self._known[size] = self._sums(size)
        sums = self._known[size]
        columns = self.zero + at[:, None] + np.arange(first, first + n * size, size)
        columns = np.clip(columns, 0, sums.shape[2] - 1) + np.arange(len(at))[:, None] * sums.shape[2]
        return np.asarray(sums.reshape(len(sums), -1).take(columns, axis=1) * np.float32(1 / size))

    def _sums(self, size: int) -> Singles:
        """Return the energy of so many cells from each on, shape (n_bands, n_hits, n_cells - size + 1)."""
        if size == 1:
            return self.energy
        half = self._sums(size // 2)
        both = half[:, :, : -(size // 2)] + half[:, :, size // 2 :]
        return both[:, :, :-1] + self.energy[:, :, size - 1 :] if size % 2 else both


@lru_cache(maxsize=8)
def _responses(size: int, rate_hz: int) -> tuple[NDArray[np.complex64], ...]:
    """Return the causal filters of the bands below the Nyquist frequency, times ``size``, on rfft bins."""
    return tuple(
        np.float32(size) * highpass_response(size, rate_hz, low) * lowpass_response(size, rate_hz, high)
        for low, high in _BANDS_HZ
        if low * 1.3 < rate_hz / 2
    )


def fit_starts(around: BandEnergies, rough_s: Floats) -> FittedStarts:
    """Fit where each hit starts.

    Parameters
    ----------
    around : windows about the rough times
    rough_s : shape (n_hits,), when each was roughly found to start, seconds in the take, rising

    Returns
    -------
    of shape (n_hits,) each, seconds after the windows' zero, and nats
    """
    nothing = np.zeros(len(rough_s))
    found = _Found(nothing, nothing, None, *np.zeros((2, len(rough_s), 1)))
    variance = nothing + _MISFIT_S**2
    for stage, finer in zip(FIT_STAGES, (*FIT_STAGES[1:], None), strict=True):
        found = _fit(around, stage, found, rough_s)
        variance = variance + found.doubt(0.0 if finer is None else finer.back_s, stage.hang_together)
    return FittedStarts(found.start * around.cell_s, np.sqrt(variance), found.gained)


class _Found(NamedTuple):
    """What is known so far: starts in cells, nats, and each band's energy, None before the first fit.

    ``trials_s`` shape (n_hits, n_trials), from the start found, and ``total`` are the last fit's.
    """

    start: Floats
    gained: Floats
    loudness: Singles | None
    trials_s: Floats
    total: Floats

    def doubt(self, beyond_s: float, hang_together: float) -> Floats:
        """Return the mean square of how far the start may lie off, of what lies further than so much, s²."""
        nats = (self.total - self.total.max(axis=1, keepdims=True)) / hang_together
        likely = np.exp(nats)
        far = np.where(np.abs(self.trials_s) > beyond_s, self.trials_s**2, 0.0)
        return np.asarray((likely * far).sum(axis=1) / likely.sum(axis=1))


def _fit(around: BandEnergies, stage: FitStage, found: _Found, rough_s: Floats) -> _Found:
    """Fit the hits by one stage."""
    grid = _Grid.of(stage, around.cell_s)
    at = np.round(found.start).astype(np.intp)
    seen = around.cut(at, (grid.low - grid.early) * grid.size, grid.cells, grid.size)
    until_next = _apart(np.diff(rough_s + found.start * around.cell_s, append=np.inf)) - stage.next_s
    last = np.ceil(until_next / grid.cell_s) + grid.early - grid.low
    n_heard = np.clip(last, grid.early + 2, grid.cells).astype(np.intp)
    seen *= np.arange(grid.cells) < n_heard[:, None]
    quiet = _quiet(around, at, stage)
    background = np.maximum(quiet, np.float32(stage.floor) * seen.max(axis=2)) + _SILENCE
    seen /= background[:, :, None]
    unlikely = _unlikely(grid, rough_s) if found.loudness is None else 0.0
    templates = [_plain_template(grid)] * len(seen)
    for _ in range(stage.rounds):
        templates = _learn(around, grid, found, quiet, templates)
        bands = [_scores(*band, grid, n_heard) for band in zip(seen, templates, strict=True)]
        found = _best(grid, at, bands, background, unlikely)
    return found


def _unlikely(grid: _Grid, rough_s: Floats) -> Floats:
    """Return the nats against each trial start for being far from where it was roughly found."""
    trials_s = np.arange(grid.low, grid.high + 1) * grid.cell_s
    too_soon = trials_s < _AFTER_LAST_S - _apart(np.diff(rough_s, prepend=-np.inf))[:, None]
    return np.asarray(0.5 * (trials_s / _ROUGH_S) ** 2 + np.where(too_soon, _NEVER, 0.0))


def _apart(times_s: Floats) -> Floats:
    """Return times between hits; two nearer than hits can be are one that was named twice, and have none."""
    return np.where(times_s < _AFTER_LAST_S, np.inf, times_s)


def _quiet(around: BandEnergies, at: Indices, stage: FitStage) -> Singles:
    """Return the energy of each band before the earliest trial start, shape (n_bands, n_hits)."""
    first, last = (round((stage.back_s + each) / around.cell_s) for each in _BACKGROUND_S)
    return around.cut(at, -first, 1, first - last)[:, :, 0]


def _plain_template(grid: _Grid) -> Singles:
    """Return a sudden start that dies away."""
    after = np.exp(-np.arange(grid.template_cells) * grid.cell_s / _DECAYS_S)
    return _normal(np.concatenate([np.zeros(grid.early), after]), grid)


def _normal(template: NDArray[np.floating], grid: _Grid) -> Singles:
    """Return a template of mean 1 over its body."""
    body = template[grid.early : grid.early + max(2, int(_BODY_S / grid.cell_s))]
    return np.asarray(template / max(float(body.mean()), 1e-9), dtype=np.float32)


def _learn(
    around: BandEnergies, grid: _Grid, found: _Found, quiet: Singles, templates: list[Singles]
) -> list[Singles]:
    """Learn each band's template from its louder hits; with too few, keep the one there is."""
    if found.loudness is None:
        return templates
    at = np.round(found.start).astype(np.intp)
    n_cells = grid.early + grid.template_cells
    energy = around.cut(at, -grid.early * grid.size, n_cells, grid.size) - quiet[:, :, None]
    energy /= found.loudness[:, :, None]
    learnt = []
    softer = int(np.ceil((1 - _LOUDER) * (len(at) - 1)))
    least = _FAINTEST * found.loudness.max(axis=1, keepdims=True) + _SILENCE
    contrasts = found.loudness / np.maximum(quiet, least)
    for rows, contrast, known in zip(energy, contrasts, templates, strict=True):
        good = (contrast >= np.partition(contrast, softer)[softer]) & (contrast > _OVER_NOISE)
        enough = good.sum() >= _ENOUGH
        learnt.append(_normal(np.maximum(medians(rows[good]), 0), grid) if enough else known)
    return learnt


def _scores(seen: Singles, template: Singles, grid: _Grid, n_heard: Indices) -> Singles:
    """Return the nats by which a band's template explains each hit, at every gain and trial start.

    Parameters
    ----------
    seen : shape (n_hits, n_cells), energy over the background
    n_heard : shape (n_hits,), cells of each hit that count

    Returns
    -------
    shape (n_hits, n_gains, n_trials)
    """
    after = np.arange(grid.cells)[:, None] - np.arange(grid.high - grid.low + 1)  # cells after the first
    shifted = np.where(after < 0, 0, template[np.maximum(after, 0)])
    variance = 1 + (shifted[:, None, :] * _GAINS[:, None]).reshape(grid.cells, -1)
    logs = np.log(variance)
    said = seen.sum(axis=1)[:, None] - seen @ (1 / variance) - logs.sum(axis=0)
    short = np.flatnonzero(n_heard < grid.cells)
    if len(short):
        said[short] += (np.arange(grid.cells) >= n_heard[short, None]).astype(np.float32) @ logs
    return np.asarray(said.reshape(len(seen), len(_GAINS), -1))


def _best(
    grid: _Grid, at: Indices, bands: list[Singles], background: Singles, unlikely: Floats | float
) -> _Found:
    """Return the trial starts that the bands together like best, none deciding alone."""
    scores = [said.max(axis=1) for said in bands]
    total = np.zeros(scores[0].shape) - unlikely
    for score in scores:
        total -= _BEND * np.log1p((score.max(axis=1, keepdims=True) - score) / _BEND)
    best = total.argmax(axis=1)
    row = np.arange(len(best))
    offsets = best + peak_between(total, best)
    start = at + (grid.low + offsets) * grid.size
    trials_s = (np.arange(total.shape[1]) - offsets[:, None]) * grid.cell_s
    gains = np.array([_gain(said[row, :, best]) for said in bands], dtype=np.float32)
    shares = [min(1.0, (high - low) * grid.size / _CELL_HZ) for low, high in _BANDS_HZ]
    gained = sum(share * score[row, best] for share, score in zip(shares, scores, strict=False))
    return _Found(start, np.asarray(gained, dtype=np.float64), gains * background, trials_s, total)


def _gain(said: Singles) -> Floats:
    """Return each hit's best gain, between those of the grid; ``said`` shape (n_hits, n_gains)."""
    best = said.argmax(axis=1)
    return np.asarray(10.0 ** (_GAIN_STEP * (best + peak_between(said, best))))
