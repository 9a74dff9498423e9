"""From values to a measure: the figure, and a 95 % range for the player's underlying value.

A figure is the plain one (mean; n-1 spread) where each value is exactly known. Where values have errors of
measurement, each weighs as much as it tells, and a spread is the player's own: the errors' part is taken off.
The interval allows for

- *structure*: a note that is always late or weak widens the spread but not the doubt about the mean, so
  doubt comes from the scatter within each written note wherever notes were repeated;
- *dependence*: neighbouring hits are not independent, and the smooth tempo follows the player
  (``Dependence``, worked out from the grid of players in ``serial_dependence``);
- *tails*: heavy-tailed scatter makes a spread less certain (excess kurtosis, shrunk where hits are few).

Each ends in an effective number of degrees of freedom (Satterthwaite 1946) for Student's t or chi-square,
whose 95 % points are read from tables: within 0.7 % of scipy.stats, and no scipy to wait for.

Conventions: values and strata have shape (n,); strata number the written notes; variances are in the unit
squared.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Floats, Ints
from evenhand.measuring.hits import labels
from evenhand.measuring.serial_dependence import SerialDependence
from evenhand.measuring.values import Measure

MOST_ROUNDS, CLOSE_ENOUGH = 30, 1e-3
LEAST_OWN = 0.05  # share of the scatter that is the player's, however large the errors
LIGHTEST = 3e-4  # parts of a mixture that weigh less are left out

_DOF = np.array(
    [1, 1.1, 1.25, 1.4, 1.6, 1.8, 2.1, 2.5, 3, 3.6, 4.4, 5.5, 7, 9, 12, 17, 25, 45, 100, 300, 1e9]
)  # fmt: skip
_T_975 = np.array(
    [12.706, 10.277, 8.028, 6.657, 5.5172, 4.7949, 4.1122, 3.5747, 3.1824, 2.9024, 2.6797, 2.5019, 2.3646,
     2.2622, 2.1788, 2.1098, 2.0595, 2.0141, 1.9840, 1.9679, 1.9600]
)  # fmt: skip
_DOF_OVER_CHI2_025 = np.array(
    [1018.3, 557.12, 271.91, 155.61, 87.509, 56.165, 33.991, 21.075, 13.902, 9.8283, 7.1549, 5.3513, 4.1423,
     3.3329, 2.7249, 2.2474, 1.9055, 1.5864, 1.3473, 1.1815, 1.0001]
)  # fmt: skip
_DOF_OVER_CHI2_975 = np.array(
    [0.19905, 0.20787, 0.22026, 0.23177, 0.24595, 0.25900, 0.27681, 0.29789, 0.32091, 0.34480, 0.37196,
     0.40297, 0.43715, 0.47312, 0.51421, 0.56308, 0.61506, 0.68797, 0.77184, 0.85745, 0.99991]
)  # fmt: skip

_BY_INVERSE = 1 / _DOF[::-1]
_BY_ROOT = np.sqrt(_BY_INVERSE)
_LOG_T, _LOG_UPPER, _LOG_LOWER = (
    np.log(table[::-1]) for table in (_T_975, _DOF_OVER_CHI2_025, _DOF_OVER_CHI2_975)
)


def t_975(dof: float) -> float:
    """Return the point that Student's t stays below 97.5 times in 100."""
    return math.exp(float(np.interp(1 / max(dof, 1.0), _BY_INVERSE, _LOG_T)))


def mixed_reach(errors: Floats, dof: Floats, weight: Floats) -> float:
    """Return how far to either side 95 % of a mixture of Student's t lies.

    Parameters
    ----------
    errors, dof, weight
        Standard error, degrees of freedom and weight (summing to 1) of each, shape (n_grid,).

    Notes
    -----
    The tail of t goes by Wallace's (1959) near-normal form, within 0.003 of the exact chance from 2 degrees
    of freedom up. Halving on the log of the reach, to 1 part in 1000.
    """
    heavy = weight > LIGHTEST
    parts = list(
        zip(errors[heavy].tolist(), np.maximum(dof[heavy], 1.0).tolist(), weight[heavy].tolist(), strict=True)
    )
    ends = [t_975(d) * error for error, d, _ in parts]
    low, high = min(ends), max(ends)
    if low <= 0 or len(parts) == 1:
        return float(high)
    beyond_all = 0.05 * sum(w for _, _, w in parts)
    while high > low * 1.001:
        reach = math.sqrt(low * high)
        beyond = sum(w * _two_tails(reach / error, d) for error, d, w in parts)
        low, high = (reach, high) if beyond > beyond_all else (low, reach)
    return float(high)


def _two_tails(t: float, dof: float) -> float:
    """Return the chance that Student's t lies further out than ``t`` on either side."""
    z = (8 * dof + 1) / (8 * dof + 3) * math.sqrt(dof * math.log1p(t * t / dof))
    return math.erfc(z / math.sqrt(2))


def variance_factors(dof: float) -> tuple[float, float]:
    """Return what a sample variance is multiplied by for the ends of its 95 % range."""
    at = 1 / math.sqrt(max(dof, 1.0))
    lower, upper = np.interp(at, _BY_ROOT, _LOG_LOWER), np.interp(at, _BY_ROOT, _LOG_UPPER)
    return math.exp(float(lower)), math.exp(float(upper))


FEWEST = 3  # values below which there is no figure
# Few values show less of a tail than there is, and people's scatter has some: the estimate is stretched, and
# drawn to a small positive one as 15 more values would. Chosen so that intervals of spreads hold the truth
# about 95 times in 100 for normal, skewed (gamma, 4) and heavy-tailed (t, 6) scatter alike.
TAIL_STRETCH, TAIL_RANGE = (0.8, 1.6), (-1.1, 20.0)  # below and above the normal's
TAIL_PRIOR, TAIL_PRIOR_VALUES = 0.7, 15.0


@dataclass(frozen=True)
class Dependence:
    """What a grid of players predicts for one group of values, each shape (n_grid,), with its ``weight``.

    ``total`` and ``within`` are the expected sample variances about the mean and about the notes' means,
    ``settled`` the variance in a long take, ``mean`` the variance of the group's mean, all in one common
    scale; ``total_rel`` and ``within_rel`` the relative variances of the two sample variances; ``pull`` the
    variance of the mean product of scatter and structure, in that scale times unit squared.
    """

    weight: Floats
    total: Floats
    within: Floats
    settled: Floats
    mean: Floats
    total_rel: Floats
    within_rel: Floats
    pull: Floats | None = None

    def average(self, values: Floats) -> float:
        """Return the weighed mean of values of shape (n_grid,)."""
        return float(self.weight @ values)

    def rel_variance(self, values: Floats) -> float:
        """Return the weighed relative variance of values of shape (n_grid,)."""
        mean = self.average(values)
        return self.average((values - mean) ** 2) / mean**2


@dataclass(frozen=True)
class Scatter:
    """A group of values summed up: ``within`` is the variance about the notes' means.

    ``structure`` holds each note's mean less the mean of all; empty where notes have none of their own.
    ``rest`` are the values about the notes' means, shape (n,), drawn in by what is error of measurement.
    ``blur`` is how many times as many values of this kind say as much as exact ones.
    """

    n: int
    mean: float
    total: float
    within: float
    n_strata: int
    structure: Mapping[int, float]
    rest: Floats
    blur: float = 1.0


def scatter_of(values: Floats, strata: Ints, errors: Floats | None = None) -> Scatter:
    """Sum up a group of values; notes have means of their own where most were repeated.

    Parameters
    ----------
    values : shape (n,), any unit
    strata : shape (n,), the written note of each
    errors : shape (n,), the standard error of each value's measurement; none where left out
    """
    n = values.size
    if n < 2:
        return Scatter(n, float(values.sum()), 0.0, 0.0, 1, {}, np.zeros(n))
    noise = np.zeros(n) if errors is None else errors**2
    all_one = np.zeros(n, dtype=np.int64)
    whole = _fit_means(values, all_one, noise)
    mean = float(whole.means[0])
    n_strata = int(np.count_nonzero(np.bincount(strata)))
    structure: dict[int, float] = {}
    if n_strata == 1 or 2 * n_strata > n:
        part, n_strata = whole, 1
    else:
        part = _fit_means(values, strata, noise)
        structure = dict(enumerate((part.means - mean).tolist()))
    rest = part.about * np.sqrt(part.weight)
    return Scatter(
        n, mean, whole.variance, part.variance, n_strata, structure, rest, n / float(part.weight.sum())
    )


@dataclass(frozen=True)
class _Means:
    """Groups' means (n_groups,), the values about them (n,), what each tells (n,), 0 to 1, and variance."""

    means: Floats
    about: Floats
    weight: Floats
    variance: float


def _fit_means(values: Floats, groups: Ints, noise: Floats) -> _Means:
    """Fit groups' means and the variance about them that all share, errors of measurement taken off.

    A value of error s in a spread of variance v weighs v / (v + s^2). Squares about a mean that was fitted
    with such weights are (v + s^2) (1 - leverage) on the average, which gives v; a few rounds settle both.
    With no errors these are plain means and the plain variance.

    Parameters
    ----------
    values, noise : shape (n,); variance of each value's measurement
    groups : shape (n,), numbered from 0
    """
    weight, variance = np.ones(values.size), 0.0
    for _ in range(MOST_ROUNDS):
        sums = np.bincount(groups, weights=weight)
        means = np.bincount(groups, weights=weight * values) / np.where(sums > 0, sums, 1.0)
        about = values - means[groups]
        free = weight**2 * (1 - weight / sums[groups])
        squares = about * about
        before = variance
        variance = float(weight**2 @ squares - free @ noise) / max(float(free.sum()), 1e-12)
        variance = max(variance, LEAST_OWN * float(squares.mean()))
        if not noise.any() or variance <= 0 or abs(variance - before) < CLOSE_ENOUGH * variance:
            break
        weight = variance / (variance + noise)
    return _Means(means, about, weight, variance)


def _excess_kurtosis(rest: Floats) -> float:
    """Return the excess kurtosis about 0, allowing for how little few values show."""
    n = rest.size
    squares = rest * rest
    spread = float(squares.sum()) / n
    if n < 4 or spread <= 0:
        return 0.0
    plain = float(squares @ squares) / n / spread**2 - 3.0
    unbiased = (n - 1) / ((n - 2) * (n - 3)) * ((n + 1) * plain + 6.0)
    stretched = min(max(unbiased * TAIL_STRETCH[unbiased > 0], TAIL_RANGE[0]), TAIL_RANGE[1])
    return (stretched * n + TAIL_PRIOR * TAIL_PRIOR_VALUES) / (n + TAIL_PRIOR_VALUES)


def independent(scatter: Scatter) -> Dependence:
    """Return the dependence of values that do not hang together."""
    one = np.ones(1)
    n = scatter.n
    return Dependence(one, one, one, one, one / n, one * 2 / (n - 1), one * 2 / max(n - scatter.n_strata, 1))


def dependence_of(
    serial: SerialDependence, parts: Floats, strata: Ints, settled: Floats, scatter: Scatter
) -> Dependence:
    """Work out what the grid predicts for one group of values.

    Parameters
    ----------
    serial
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
    mix = serial.mix
    structure = np.array([scatter.structure.get(p, 0.0) for p in strata.tolist()])
    pull = np.einsum("i,kij,j->k", structure, parts, structure)

    def carried(expected: Floats) -> Floats:
        return np.asarray(mix @ (settled - (settled - expected) * share))

    def relative(gram: Floats, expected: Floats) -> Floats:
        return np.asarray(np.einsum("gk,kl,gl->g", mix, gram, mix) / (mix @ expected) ** 2 * share)

    return Dependence(
        weight=serial.weight,
        total=carried(total),
        within=carried(within),
        settled=mix @ settled,
        mean=mix @ parts.sum(axis=(1, 2)) / n_seen**2 * share,
        total_rel=relative(total_gram, total),
        within_rel=relative(within_gram, within),
        pull=mix @ pull / n_seen**2 * share,
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


def mean_of(scatter: Scatter, unit: str, depends: Dependence | None = None) -> Measure:
    """Return a group's mean as a measure."""
    if scatter.n < FEWEST:
        return too_few(scatter.n, unit)
    depends = depends or independent(scatter)
    errors = np.sqrt(scatter.within * scatter.blur * depends.mean / depends.within)
    return within(scatter.mean, mixed_reach(errors, 2 / depends.within_rel, depends.weight), scatter.n, unit)


def spread_of(
    scatter: Scatter, unit: str, depends: Dependence | None = None, *, shared_tails: float = 1.0
) -> Measure:
    """Return a group's n-1 spread as a measure.

    ``shared_tails`` says how much more a heavy tail counts because one blow enters several values.
    """
    if scatter.n < FEWEST:
        return too_few(scatter.n, unit)
    depends = depends or independent(scatter)
    between = max(scatter.total - scatter.within * (1 + math.sqrt(depends.average(depends.within_rel))), 0.0)
    noise = 1 - between / scatter.total if scatter.total > 0 else 1.0
    bias = depends.settled / depends.total
    heavy = shared_tails * _excess_kurtosis(scatter.rest) / scatter.n
    blur = scatter.blur**2  # variances tell with the square of what values tell
    settled = between + (scatter.total - between) * depends.average(bias)
    pull = noise * (1 - noise) / scatter.n
    if depends.pull is not None and between > 0:
        kept = between / (scatter.total - scatter.within)
        pull = depends.average(depends.pull / depends.within) * scatter.within / scatter.total**2 * kept
    rel = (
        noise**2 * (depends.average(depends.total_rel) + heavy) * blur
        + 4 * pull
        + noise**2 * depends.rel_variance(bias)
    )
    low, high = variance_factors(2 / max(rel, 1e-9))
    return Measure(
        math.sqrt(scatter.total),
        scatter.n,
        unit,
        (math.sqrt(settled * low), math.sqrt(settled * high)),
    )


def difference_of(first: Scatter, second: Scatter, unit: str) -> Measure:
    """Return mean of first minus mean of second (independent groups, Welch's interval) as a measure."""
    if min(first.n, second.n) < FEWEST:
        return too_few(min(first.n, second.n), unit)
    errors = [(g.within * g.blur / g.n, max(g.n - g.n_strata, 1)) for g in (first, second)]
    variance = sum(v for v, _ in errors)
    dof = variance**2 / max(sum(v**2 / d for v, d in errors), 1e-30)
    return around(first.mean - second.mean, math.sqrt(variance), dof, first.n + second.n, unit)


def around(value: float, error: float, dof: float, n: int, unit: str) -> Measure:
    """Return a measure whose interval stands evenly around its value, by Student's t."""
    return within(value, t_975(dof) * error, n, unit)


def within(value: float, reach: float, n: int, unit: str) -> Measure:
    """Return a measure whose interval reaches so far to either side."""
    return Measure(value, n, unit, (value - reach, value + reach))


def too_few(n: int, unit: str, needs: int = FEWEST) -> Measure:
    """Return a measure that says how many would do."""
    return Measure(None, n, unit, None, needs)


def wilson(k: float, n: float) -> tuple[float, float]:
    """Return Wilson's 95 % range of a share (Wilson 1927)."""
    z2 = 1.959964**2
    middle, reach = (k + z2 / 2) / (n + z2), math.sqrt(z2 * (k * (n - k) / n + z2 / 4)) / (n + z2)
    return max(middle - reach, 0.0), min(middle + reach, 1.0)


def share_of(k: int, n: int) -> Measure:
    """Return the share of k in n, %, with Wilson's range; n over 0."""
    low, high = wilson(k, n)
    return Measure(100 * k / n, n, "%", (100 * low, 100 * high))
