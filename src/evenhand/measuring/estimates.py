"""From values to a measure: the figure, and a 95 % interval for the player's underlying value.

A figure is always the plain one (mean; n-1 spread). The interval allows for

- *structure*: a note that is always late or weak widens the spread but not the doubt about the mean, so doubt
  comes from the scatter within each written note wherever notes were repeated;
- *dependence*: neighbouring hits are not independent, and the smooth tempo follows the player (``Dependence``,
  worked out from the grid of players in ``wander``);
- *tails*: heavy-tailed scatter makes a spread less certain (excess kurtosis, shrunk where hits are few).

Each ends in an effective number of degrees of freedom (Satterthwaite 1946) for Student's t or chi-square.

Conventions: values and strata have shape (n,); strata number the written notes; variances are in unit squared.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.measures import Measure
from evenhand.measuring.quantiles import t_975, variance_factors
from evenhand.measuring.strokes import Floats, Ints, group_means, labels
from evenhand.measuring.wander import Wander

FEWEST = 3  # values below which there is no figure
KURTOSIS_SHRINK, KURTOSIS_RANGE = 20.0, (-1.0, 12.0)


@dataclass(frozen=True)
class Dependence:
    """What a grid of players predicts for one group of values, each shape (n_grid,), with its ``weight``.

    ``total`` and ``within`` are the expected sample variances about the mean and about the notes' means,
    ``settled`` the variance in a long take, ``mean`` the variance of the group's mean, all in one common
    scale; ``total_rel`` and ``within_rel`` the relative variances of the two sample variances.
    """

    weight: Floats
    total: Floats
    within: Floats
    settled: Floats
    mean: Floats
    total_rel: Floats
    within_rel: Floats

    def average(self, values: Floats) -> float:
        """Return the weighed mean over the grid."""
        return float(self.weight @ values)

    def rel_variance(self, values: Floats) -> float:
        """Return the weighed relative variance over the grid."""
        mean = self.average(values)
        return self.average((values - mean) ** 2) / mean**2


@dataclass(frozen=True)
class Scatter:
    """A group of values summed up: ``within`` is the variance about the notes' means."""

    n: int
    mean: float
    total: float
    within: float
    n_strata: int
    kurtosis: float


def scatter_of(values: Floats, strata: NDArray[np.generic]) -> Scatter:
    """Sum up a group of at least two values; notes have means of their own where most were repeated."""
    n = values.size
    group = labels(strata)
    n_strata = int(group.max()) + 1
    mean = float(values.mean())
    total = float(((values - mean) ** 2).sum()) / (n - 1)
    if 2 * n_strata > n:
        group, n_strata = np.zeros(n, dtype=np.int64), 1
    rest = values - group_means(values, group)[group]
    within = float((rest**2).sum()) / (n - n_strata)
    return Scatter(n, mean, total, within, n_strata, _excess_kurtosis(rest))


def _excess_kurtosis(rest: Floats) -> float:
    """Return the excess kurtosis about 0, drawn towards the normal's where values are few."""
    n = rest.size
    squares = rest**2
    spread = float(squares.mean())
    if n < 4 or spread <= 0:
        return 0.0
    plain = float((squares**2).mean()) / spread**2 - 3.0
    unbiased = (n - 1) / ((n - 2) * (n - 3)) * ((n + 1) * plain + 6.0)
    return float(np.clip(unbiased, *KURTOSIS_RANGE)) * n / (n + KURTOSIS_SHRINK)


def independent(scatter: Scatter) -> Dependence:
    """Return the dependence of values that do not hang together."""
    one = np.ones(1)
    n = scatter.n
    return Dependence(one, one, one, one, one / n, one * 2 / (n - 1), one * 2 / max(n - scatter.n_strata, 1))


def dependence_of(
    wander: Wander, parts: Floats, strata: Ints, settled: Floats, scatter: Scatter
) -> Dependence:
    """Work out what the grid predicts for one group of values.

    Parameters
    ----------
    wander
        The weighed grid.
    parts
        The building blocks' covariance of the group's first values, shape (n_parts, a, a), a >= 2.
    strata
        Written note of each of these, shape (a,).
    settled
        The building blocks' variance in a long take, shape (n_parts,).
    scatter
        The whole group; what the first values show is carried over to all of them.
    """
    n_seen = parts.shape[1]
    share = n_seen / scatter.n
    zeros = np.zeros(n_seen, dtype=np.int64)
    total, total_gram = _sample_variance(parts, zeros)
    group = labels(strata) if scatter.n_strata > 1 else zeros
    within, within_gram = (
        (total, total_gram) if 2 * (group.max() + 1) > n_seen else _sample_variance(parts, group)
    )
    mix = wander.mix

    def carried(expected: Floats) -> Floats:
        return np.asarray(mix @ (settled - (settled - expected) * share))

    def relative(gram: Floats, expected: Floats) -> Floats:
        return np.asarray(np.einsum("gk,kl,gl->g", mix, gram, mix) / (mix @ expected) ** 2 * share)

    return Dependence(
        weight=wander.weight,
        total=carried(total),
        within=carried(within),
        settled=mix @ settled,
        mean=mix @ parts.sum(axis=(1, 2)) / n_seen**2 * share,
        total_rel=relative(total_gram, total),
        within_rel=relative(within_gram, within),
    )


def _sample_variance(parts: Floats, group: Ints) -> tuple[Floats, Floats]:
    """Return each block's expected sample variance about the groups' means, and the gram for its variance."""
    member = (group[:, None] == np.arange(group.max() + 1)).astype(np.float64)
    means = member / member.sum(0)
    centred = parts - member @ (means.T @ parts)
    centred = centred - (centred @ means) @ member.T
    dof = group.size - member.shape[1]
    flat = centred.reshape(centred.shape[0], -1)
    return np.trace(centred, axis1=1, axis2=2) / dof, 2 * flat @ flat.T / dof**2


def mean_measure(
    values: Floats, strata: NDArray[np.generic], unit: str, depends: Dependence | None = None
) -> Measure:
    """Return the mean of values as a measure."""
    if values.size < FEWEST:
        return too_few(values.size, unit)
    scatter = scatter_of(values, strata)
    variance, dof = mean_doubt(scatter, depends or independent(scatter))
    return around(scatter.mean, math.sqrt(variance), dof, scatter.n, unit)


def mean_doubt(scatter: Scatter, depends: Dependence) -> tuple[float, float]:
    """Return the variance of a group's mean and its effective degrees of freedom."""
    ratio = depends.mean / depends.within
    rel = depends.average(depends.within_rel) + depends.rel_variance(ratio)
    return scatter.within * depends.average(ratio), 2 / rel


def spread_measure(
    values: Floats, strata: NDArray[np.generic], unit: str, depends: Dependence | None = None
) -> Measure:
    """Return the n-1 spread of values as a measure."""
    if values.size < FEWEST:
        return too_few(values.size, unit)
    scatter = scatter_of(values, strata)
    depends = depends or independent(scatter)
    between = max(scatter.total - scatter.within, 0.0)
    noise = 1 - between / scatter.total if scatter.total > 0 else 1.0
    bias = depends.settled / depends.total
    heavy = scatter.kurtosis / scatter.n
    settled = between + (scatter.total - between) * depends.average(bias)
    rel = (
        noise**2 * (depends.average(depends.total_rel) + heavy)
        + 4 * noise * (1 - noise) * depends.average(depends.mean / depends.within)
        + noise**2 * depends.rel_variance(bias)
    )
    low, high = variance_factors(2 / max(rel, 1e-9))
    return Measure(
        math.sqrt(scatter.total),
        scatter.n,
        unit,
        (math.sqrt(settled * low), math.sqrt(settled * high)),
    )


def difference_measure(
    first: Floats, second: Floats, strata: tuple[NDArray[np.generic], NDArray[np.generic]], unit: str
) -> Measure:
    """Return mean of first minus mean of second (independent groups, Welch's interval) as a measure."""
    n = first.size + second.size
    if min(first.size, second.size) < FEWEST:
        return too_few(min(first.size, second.size), unit)
    groups = (scatter_of(first, strata[0]), scatter_of(second, strata[1]))
    doubts = [mean_doubt(g, independent(g)) for g in groups]
    variance = sum(v for v, _ in doubts)
    dof = variance**2 / max(sum(v**2 / d for v, d in doubts), 1e-30)
    return around(groups[0].mean - groups[1].mean, math.sqrt(variance), dof, n, unit)


def around(value: float, error: float, dof: float, n: int, unit: str) -> Measure:
    """Return a measure whose interval stands evenly around its value."""
    reach = t_975(dof) * error
    return Measure(value, n, unit, (value - reach, value + reach))


def too_few(n: int, unit: str) -> Measure:
    """Return a measure that says how many would do."""
    return Measure(None, n, unit, None, FEWEST)
