"""Statistics of figures that differ by more than their own errors: mixtures, random effects, weighted fits.

- A *mixture* of Student's t or normal curves is what is left of doubt over a grid of models.
- *Random effects*: a student's takes differ by more than their own intervals say. How much is not known: a
  grid of such spreads is weighed by the restricted likelihood and a prior around what is usual.
- A *fit over days*: a day's figure strays from the trajectory by its own error and by the between-day spread,
  chosen so that the weighted squares come to their degrees of freedom (Paule & Mandel 1982); intervals are
  Student's t over what is left (as Hartung & Knapp 2001).
- A *slope* of values at even moments: each keeps a share of the scatter of the one before (AR(1)); a grid of
  memories is weighed by the restricted likelihood, and the slope is a mixture over it.

Conventions: models have shape (n_models,), takes or days (n,); ``x`` in days.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from evenhand.arrays import Floats, from_logs
from evenhand.measuring.values import Measure

NORMAL_DOF = 1e4
LIGHTEST = 1e-4  # models of less weight are left out
_REACH, _POINTS = 14.0, 801  # scales to either side; places on each curve


def middle_95(centre: Floats, scale: Floats, weight: Floats, dof: float = NORMAL_DOF) -> tuple[float, float]:
    """Return where the middle 95 % of the mixture lies.

    Parameters
    ----------
    centre, scale, weight : shape (n_models,)
    dof : degrees of freedom of each curve; normal where left out

    Examples
    --------
    >>> low, high = middle_95(np.zeros(1), np.ones(1), np.ones(1))
    >>> round(low, 2), round(high, 2)
    (-1.96, 1.96)
    """
    low, high = quantiles(centre, scale, weight, (0.025, 0.975), dof)
    return low, high


def quantiles(
    centre: Floats, scale: Floats, weight: Floats, shares: tuple[float, ...], dof: float = NORMAL_DOF
) -> tuple[float, ...]:
    """Return the places that the mixture stays below by the given shares.

    Student's curve by its density, summed over a grid that is fine near the centres: within 0.3 % of
    scipy.stats from 1 degree of freedom up (checked in the tests).

    Parameters
    ----------
    centre, scale, weight : shape (n_models,)
    shares : 0 to 1
    """
    heavy = weight > LIGHTEST * weight.max()
    centre, scale, weight = (
        centre[heavy],
        np.maximum(scale[heavy], 1e-300),
        weight[heavy] / weight[heavy].sum(),
    )
    steps = np.sinh(np.linspace(-1, 1, _POINTS) * _reach(dof))
    places = np.unique((centre[:, None] + scale[:, None] * steps).ravel())
    if len(places) > 4 * _POINTS:
        places = places[np.linspace(0, len(places) - 1, 4 * _POINTS).astype(np.intp)]
    far = ((places[:, None] - centre) / scale) ** 2
    density = np.exp(-0.5 * (dof + 1) * np.log1p(far / dof)) / scale @ weight
    area = np.concatenate([[0.0], np.cumsum(np.diff(places) * (density[1:] + density[:-1]) / 2)])
    return tuple(np.interp(np.array(shares) * area[-1], area, places).tolist())


def _reach(dof: float) -> float:
    """Return how far out the curve is followed, as the argument of a hyperbolic sine."""
    return math.asinh(_REACH * (1 + 4000 / dof**3 if dof < 20 else 1.0))


def t_975(dof: float) -> float:
    """Return the point that Student's t stays below 97.5 times in 100.

    >>> round(t_975(10), 2)
    2.23
    """
    return quantiles(np.zeros(1), np.ones(1), np.ones(1), (0.975,), max(dof, 1.0))[0]


NORMAL_95 = 1.959964
_STEPS = np.arange(-3.0, 4.0)
_FACTOR = 2.0  # from each spread of the grid to the next; the prior's own width is one such step


@dataclass(frozen=True, slots=True)
class Mixture:
    """Normal curves over a grid of models; each shape (n_models,), ``weight`` sums to 1."""

    weight: Floats
    mean: Floats
    spread: Floats

    @property
    def value(self) -> float:
        """The mean of all."""
        return float(self.weight @ self.mean)

    @property
    def ci95(self) -> tuple[float, float]:
        """Where the middle 95 % lies."""
        return middle_95(self.mean, self.spread, self.weight)

    def minus(self, other: Mixture) -> Mixture:
        """Return the difference from an independent one."""
        return Mixture(
            (self.weight[:, None] * other.weight).ravel(),
            (self.mean[:, None] - other.mean).ravel(),
            np.hypot(self.spread[:, None], other.spread).ravel(),
        )


def random_effects(values: Floats, errors: Floats, between: Floats, log_prior: Floats) -> Mixture:
    """Return the common mean of figures that differ by more than their own errors.

    Parameters
    ----------
    values, errors : shape (n,), figures and their standard errors, n of 1 or more
    between : shape (n_models,), spreads between them that are tried, in their unit
    log_prior : shape (n_models,), what is thought of each beforehand

    Notes
    -----
    Each spread is weighed by the restricted likelihood.
    """
    variance = errors**2 + between[:, None] ** 2
    share = 1 / variance
    mean = (share @ values) / share.sum(axis=1)
    squares = (share * (values - mean[:, None]) ** 2).sum(axis=1)
    logs = -0.5 * (np.log(variance).sum(axis=1) + np.log(share.sum(axis=1)) + squares)
    return Mixture(from_logs(logs + log_prior), mean, np.sqrt(1 / share.sum(axis=1)))


def pooled(values: Floats, errors: Floats, usual_between: float) -> Mixture:
    """Return the common mean of takes' figures; takes differ by about ``usual_between`` beyond their errors.

    Parameters
    ----------
    values, errors : shape (n_takes,), figures and their standard errors
    """
    return random_effects(values, errors, usual_between * _FACTOR**_STEPS, -0.5 * _STEPS**2)


def error_of(measure: Measure) -> float | None:
    """Return a figure's standard error, as far as its interval tells; None where it has none."""
    if measure.value is None or measure.ci95 is None:
        return None
    return (measure.ci95[1] - measure.ci95[0]) / (2 * NORMAL_95)


def log_error_of(measure: Measure) -> float | None:
    """Return the standard error of a positive figure's logarithm."""
    if measure.value is None or measure.ci95 is None or measure.value <= 0 or measure.ci95[0] <= 0:
        return None
    return float(np.log(measure.ci95[1] / measure.ci95[0])) / (2 * NORMAL_95)


_ZOOMS, _DAY_FORM_POINTS = 6, 16
SMALLEST_SHARE = 1e-7  # of the figures' range: what is smaller is rounding


@dataclass(frozen=True)
class Fit:
    """Coefficients of a basis, what their errors are, and the spread between days."""

    coefficients: Floats  # shape (p,)
    covariance: Floats  # shape (p, p), scaled
    weights: Floats  # shape (n,)
    squares: float  # weighted, left over
    scale: float  # what the squares come to for each degree of freedom, never less than 1
    between: float
    dof: int

    def at(self, row: Floats) -> tuple[float, tuple[float, float]]:
        """Return what a row of the basis, shape (p,), comes to, with its 95 % range."""
        value = float(row @ self.coefficients)
        reach = reach_of(self.dof) * math.sqrt(max(float(row @ self.covariance @ row), 0.0))
        return value, (value - reach, value + reach)


@lru_cache(maxsize=256)
def reach_of(dof: int) -> float:
    """Return how many standard errors an interval reaches to either side (Student's t, 97.5 %)."""
    return t_975(dof)


def fit(basis: Floats, y: Floats, errors: Floats) -> Fit:
    """Fit a basis to days' figures.

    Parameters
    ----------
    basis
        shape (n, p), n more than p.
    y, errors
        shape (n,): figures and their standard errors, which may be zero.
    """
    dof = len(y) - basis.shape[1]
    between = _between_day_spread(basis, y, errors)
    weights = 1 / (errors**2 + between**2)
    coefficients, inverse, squares = weighted(basis, y, weights)
    scale = max(squares / dof, 1.0)
    return Fit(coefficients, inverse * scale, weights, squares, scale, between, dof)


def weighted(basis: Floats, y: Floats, weights: Floats) -> tuple[Floats, Floats, float]:
    """Return coefficients, the inverse of the normal matrix, and the squares left over.

    Parameters
    ----------
    basis : shape (n, p)
    y, weights : shape (n,)

    Returns
    -------
    shape (p,), shape (p, p), and a number
    """
    root = np.sqrt(weights)
    rows, right = basis * root[:, None], y * root
    inverse = np.asarray(np.linalg.inv(rows.T @ rows), dtype=np.float64)
    coefficients = inverse @ (rows.T @ right)
    left = right - rows @ coefficients
    return coefficients, inverse, float(left @ left)


def _between_day_spread(basis: Floats, y: Floats, errors: Floats) -> float:
    """Return the spread between days at which the weighted squares come to their degrees of freedom."""
    dof = len(y) - basis.shape[1]
    smallest = SMALLEST_SHARE * max(float(np.ptp(y)), float(np.abs(y).max()), 1e-12)
    low, high = smallest, 10 * float(np.std(y)) + smallest
    if squares_left(basis, y, _weights(errors, np.array([low])))[0] <= dof:
        return low
    for _ in range(_ZOOMS):
        between = np.geomspace(low, high, _DAY_FORM_POINTS)
        too_small = np.flatnonzero(squares_left(basis, y, _weights(errors, between)) > dof)
        last = int(too_small[-1]) if len(too_small) else 0
        low, high = between[last], between[min(last + 1, _DAY_FORM_POINTS - 1)]
    return float(np.sqrt(low * high))


def _weights(errors: Floats, between: Floats) -> Floats:
    return np.asarray(1 / (errors**2 + between[:, None] ** 2))


def squares_left(bases: Floats, y: Floats, weights: Floats) -> Floats:
    """Return the weighted squares left over by many bases, or under many weights, at once.

    Parameters
    ----------
    bases : shape (n, p) or (n_fits, n, p)
    y : shape (n,)
    weights : shape (n,) or (n_fits, n)

    Returns
    -------
    shape (n_fits,)
    """
    root = np.sqrt(weights)
    rows, right = bases * root[..., None], (y * root)[..., None]
    turned = np.swapaxes(rows, -1, -2)
    coefficients = np.linalg.solve(turned @ rows, turned @ right)
    return np.asarray(((right - rows @ coefficients) ** 2).sum(axis=(-2, -1)))


def chance_of_squares(gained: float, fit_: Fit, parameters: int = 2) -> float:
    """Return how likely chance alone gains so many squares by two more parameters (F test, 2 and dof).

    >>> nothing = Fit(np.zeros(3), np.eye(3), np.ones(13), 10.0, 1.0, 0.0, 10)
    >>> round(chance_of_squares(2 * 4.103, nothing), 3)
    0.05
    """
    f = max(gained, 0.0) / parameters / fit_.scale
    return float((1 + 2 * f / fit_.dof) ** (-fit_.dof / 2))


FEWEST = 6
MEMORIES = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95])


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope per unit of ``at``, and where it lies with 95 % certainty."""

    value: float
    ci95: tuple[float, float]
    n: int


def slope_of(at: Floats, values: Floats) -> Slope | None:
    """Return the slope of values over moments that lie evenly; None where there are too few.

    Parameters
    ----------
    at, values : shape (n,)
    """
    n = len(values)
    if n < FEWEST or float(np.ptp(at)) <= 0:
        return None
    design = np.column_stack([np.ones(n), at - at.mean()])
    rows = [_under(memory, design, values) for memory in MEMORIES.tolist()]
    slopes, spreads, logs = (np.array(column) for column in zip(*rows, strict=True))
    weight = from_logs(logs)
    return Slope(float(weight @ slopes), middle_95(slopes, spreads, weight, dof=n - 2), n)


def _under(memory: float, design: Floats, values: Floats) -> tuple[float, float, float]:
    """Return slope, its spread, and the log of the restricted likelihood under one memory."""
    n = len(values)
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
    covariance = memory**apart if memory > 0 else np.eye(n)
    inverse = np.linalg.inv(covariance)
    information = design.T @ inverse @ design
    cov = np.linalg.inv(information)
    best = cov @ (design.T @ inverse @ values)
    rest = values - design @ best
    square = max(float(rest @ inverse @ rest), 1e-18)
    log = -0.5 * (np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1])
    log -= 0.5 * (n - 2) * np.log(square)
    return float(best[1]), float(np.sqrt(cov[1, 1] * square / (n - 2))), float(log)
