"""Serial dependence: how one hit's timing hangs together with the next, which an interval must allow for.

Two families of player stand behind the intervals, mixed by how well each fits the take:

- *hand noise*: every hit scatters by itself;
- *wandering*: part of the scatter is a common timekeeper that drifts and comes back (first-order
  autoregressive), or, without a click, adds up freely from note to note (Wing & Kristofferson 1973).

A take is cut into blocks of at most 32 hits. In each, a difference of the hands and, without a click, a tempo
that changes evenly are taken out (restricted likelihood), and a grid of such players is weighed by the
likelihood; averages over 16 hits add what is slower than a block can show. For means and spreads only ratios
of what the grid predicts are used, so the scale comes from the take's own spread. The smooth tempo follows
the player a little, which takes part of the scatter away; it is linear, so it is allowed for exactly.

Conventions: times in ms; ``parts`` are covariance matrices of building blocks, shape (n_parts, m, m), for the
first m <= 64 hits; ``mix`` says how much of each block a grid's player has, shape (n_grid, n_parts).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from evenhand.arrays import Floats, Ints, from_logs
from evenhand.take import Clock

NOTES_TO_EITHER_SIDE = 16


def tricube(distance_notes: Floats) -> Floats:
    """Return the weight of a note this far away; nothing from 17 notes on.

    Parameters
    ----------
    distance_notes : any shape

    Returns
    -------
    the same shape, 0 to 1
    """
    return np.asarray((1 - np.minimum(np.abs(distance_notes) / (NOTES_TO_EITHER_SIDE + 1), 1.0) ** 3) ** 3)


@lru_cache(maxsize=64)
def _deviation_matrix(n: int) -> Floats:
    """Return the matrix that turns n evenly written hit times into deviations from their smooth tempo."""
    at = np.arange(n, dtype=np.float64)
    away = at[None, :] - at[:, None]
    weight = tricube(away)
    s0, s1, s2 = weight.sum(1), (weight * away).sum(1), (weight * away**2).sum(1)
    line = weight * (s2[:, None] - s1[:, None] * away) / np.maximum(s0 * s2 - s1**2, 1e-12)[:, None]
    return np.asarray(np.eye(n) - line)


BLOCK_HITS, SMALLEST_BLOCK, WINDOW_HITS = 32, 7, 64
FEWEST_AVERAGES, MOST_AVERAGES = 5, 64
MEMORIES = (0.5, 0.75, 0.9, 0.97)  # from hit to hit, of a timekeeper that comes back
SHARES = (0.3, 0.6, 0.9)  # of the variance that is the timekeeper's
FREE_RATIOS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 25.0)  # free timekeeper variance to hand variance
PRIOR_NOISE, PRIOR_FREE = 0.4, 0.4  # before the take is looked at; the rest is for those that come back,
PRIOR_MEMORIES = (0.4, 0.35, 0.17, 0.08)  # by how soon they do


@dataclass(frozen=True)
class SerialDependence:
    """A weighed grid of players. ``weight`` (n_grid,), ``scale`` (n_grid,) ms squared per unit of ``mix``.

    ``judged`` covers what is judged (asynchronies or deviations), ``raw`` the hit times behind them;
    ``settled`` (n_parts,) is the variance of ``judged`` in a long take.
    """

    weight: Floats
    scale: Floats
    mix: Floats
    judged: Floats
    raw: Floats
    settled: Floats
    clock: Clock


@lru_cache(maxsize=2)
def grid(clock: Clock) -> tuple[Floats, Floats]:
    """Return the grid's mix, shape (n_grid, n_parts), and its prior weights, shape (n_grid,).

    Returns
    -------
    mix, shape (n_grid, n_parts), and prior weights, shape (n_grid,)
    """
    free = 1 if clock == "smooth" else 0
    rows = [_row(free, {0: 1.0})]
    for k in range(len(MEMORIES)):
        rows += [_row(free, {0: 1 - share, 1 + k: share}) for share in SHARES]
    back = 1 - PRIOR_NOISE - PRIOR_FREE * free
    prior = [PRIOR_NOISE] + [back * part / len(SHARES) for part in PRIOR_MEMORIES for _ in SHARES]
    if free:
        rows += [_row(free, {0: 1.0, 1 + len(MEMORIES): ratio}) for ratio in FREE_RATIOS]
        prior += [PRIOR_FREE / len(FREE_RATIOS)] * len(FREE_RATIOS)
    return np.array(rows), np.array(prior)


def _row(free: int, amounts: dict[int, float]) -> list[float]:
    """Return one player's mix of hand noise, timekeepers that come back, and a free one."""
    return [amounts.get(k, 0.0) for k in range(1 + len(MEMORIES) + free)]


@lru_cache(maxsize=128)
def _raw_parts(clock: Clock, m: int) -> Floats:
    """Return the building blocks' covariance of m hit times in a row, shape (n_parts, m, m)."""
    at = np.arange(m)
    apart = np.abs(at[:, None] - at[None, :])
    parts = [np.eye(m), *(memory**apart for memory in MEMORIES)]
    if clock == "smooth":
        parts.append(1.0 + np.minimum(at[:, None], at[None, :]))
    return np.array(parts, dtype=np.float64)


@lru_cache(maxsize=16)
def _judged_parts(clock: Clock, m: int) -> Floats:
    """Return the building blocks' covariance of what is judged, shape (n_parts, m, m)."""
    parts = _raw_parts(clock, m)
    if clock == "click":
        return parts
    deviate = _deviation_matrix(m)
    return np.asarray(deviate @ parts @ deviate.T)


@lru_cache(maxsize=2)
def _settled_variance(clock: Clock) -> Floats:
    """Return the building blocks' variance in the middle of a long take, shape (n_parts,)."""
    return np.asarray(_judged_parts(clock, WINDOW_HITS)[:, WINDOW_HITS // 2, WINDOW_HITS // 2])


@lru_cache(maxsize=128)
def _precision(clock: Clock, m: int, averaged: int = 1) -> tuple[Floats, Floats]:
    """Return inverse and log-determinant of every grid player's covariance of m hit times or averages."""
    mix, _ = grid(clock)
    parts = _raw_parts(clock, m) if averaged == 1 else _averaged_parts(clock, m, averaged)
    covariance = np.tensordot(mix, parts, axes=1)
    return np.asarray(np.linalg.inv(covariance)), np.asarray(np.linalg.slogdet(covariance)[1])


def _averaged_parts(clock: Clock, m: int, averaged: int) -> Floats:
    """Return the building blocks' covariance of m averages over so many hits each."""
    at, inner = np.arange(m), np.arange(averaged)
    apart = np.abs(at[:, None] - at[None, :])
    within = _raw_parts(clock, averaged).mean(axis=(1, 2))
    parts = [np.eye(m) / averaged]
    for k, memory in enumerate(MEMORIES):
        ends = np.mean(memory**inner) * np.mean(memory ** (averaged - 1.0 - inner))
        between = ends * memory ** (averaged * apart - (averaged - 1.0))
        parts.append(np.where(apart == 0, within[1 + k], between))
    if clock == "smooth":
        first = averaged * np.minimum(at[:, None], at[None, :])
        parts.append(first + np.where(apart == 0, within[-1], 1 + (averaged - 1) / 2))
    return np.array(parts, dtype=np.float64)


def weigh_players(
    series_ms: Floats, design: Floats, stretch: Ints, *, clock: Clock, taken_out: int
) -> SerialDependence:
    """Weigh the grid of players by a take.

    Parameters
    ----------
    series_ms
        Hit times less what is known to be structure, shape (n,), in order of time.
    design
        What else may be in it: which hand, and without a click the written time; shape (n, n_columns).
    stretch
        Numbers of unbroken stretches, rising, shape (n,).
    clock
        What timing is judged against: with "smooth" the series still holds the tempo.
    taken_out
        Number of means that were taken out of the series before.
    """
    mix, prior = grid(clock)
    log_weight, squares, dof = np.log(prior), np.zeros(prior.size), 0
    fine = [(*pair, 1) for pair in _blocks(series_ms, design, stretch)]
    for block, columns, averaged in [*fine, *_averages(series_ms, design, stretch)]:
        inverse, log_det = _precision(clock, block.shape[1], averaged)
        logs, sums = _restricted(block, columns, inverse)
        log_weight = log_weight - 0.5 * (block.shape[0] * log_det + logs)
        squares += sums
        dof += block.shape[0] * (block.shape[1] - columns.shape[2])
    if dof:
        log_weight = log_weight - 0.5 * dof * np.log(np.maximum(squares, 1e-12))
    m = min(int(np.bincount(stretch).max(initial=1)), WINDOW_HITS)
    return SerialDependence(
        weight=from_logs(log_weight),
        scale=squares / max(dof - taken_out, 1),
        mix=mix,
        judged=_judged_parts(clock, m),
        raw=_raw_parts(clock, m),
        settled=_settled_variance(clock),
        clock=clock,
    )


def _blocks(series: Floats, design: Floats, stretch: Ints) -> list[tuple[Floats, Floats]]:
    """Cut a take into blocks, by size: series (n_blocks, m) and design (n_blocks, m, n_columns + 1)."""
    by_size: dict[int, list[slice]] = {}
    start = 0
    for end in (np.flatnonzero(np.diff(stretch, append=-1)) + 1).tolist():
        for first in range(start, end, BLOCK_HITS):
            size = min(BLOCK_HITS, end - first)
            if size >= SMALLEST_BLOCK:
                by_size.setdefault(size, []).append(slice(first, first + size))
        start = end
    return [
        _centred(np.array([series[s] for s in cut]), np.array([design[s] for s in cut]))
        for cut in by_size.values()
    ]


def _averages(series: Floats, design: Floats, stretch: Ints) -> list[tuple[Floats, Floats, int]]:
    """Average the longest stretch over half a block each: what is slower than a block can show."""
    sizes = np.bincount(stretch, minlength=1)
    averaged = BLOCK_HITS // 2
    while sizes.max() > MOST_AVERAGES * averaged:
        averaged *= 2
    m = int(sizes.max()) // averaged
    if m < FEWEST_AVERAGES:
        return []
    rows = np.flatnonzero(stretch == sizes.argmax())[: m * averaged]
    block = series[rows].reshape(1, m, averaged).mean(2)
    columns = design[rows].reshape(1, m, averaged, -1).mean(2)
    return [(*_centred(block, columns), averaged)]


def _centred(block: Floats, columns: Floats) -> tuple[Floats, Floats]:
    """Return blocks about their mean, and their design: a constant, the hand, a bent line if there is one."""
    columns = columns - columns.mean(1, keepdims=True)
    if columns.shape[2] > 1:
        line = columns[:, :, 1:] / np.maximum(np.abs(columns[:, :, 1:]).max(1, keepdims=True), 1e-12)
        columns = np.concatenate([columns[:, :, :1], line, line**2], axis=2)
    design = np.concatenate([np.ones((*block.shape, 1)), columns], axis=2)
    return block - block.mean(1, keepdims=True), design


def _restricted(block: Floats, design: Floats, inverse: Floats) -> tuple[Floats, Floats]:
    """Return log-determinants and residual squares of every grid player, summed over blocks."""
    n_columns = design.shape[2]
    both = np.concatenate([design, block[:, :, None]], axis=2)
    inner = both.transpose(0, 2, 1) @ (inverse[:, None] @ both)
    xx = inner[:, :, :n_columns, :n_columns] + 1e-9 * np.eye(n_columns)
    xy, yy = inner[:, :, :n_columns, n_columns], inner[:, :, n_columns, n_columns]
    solved = np.linalg.solve(xx, xy[..., None])[..., 0]
    squares = yy - (xy * solved).sum(-1)
    return np.linalg.slogdet(xx)[1].sum(1), np.maximum(squares, 0.0).sum(1)
