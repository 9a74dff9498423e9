"""Fit a course of figures so that form on the day is not taken for learning.

Conventions: ``x`` in days, one row a day, shape (n,). A day's figure strays from the course by its own error
and by the form on that day, whose spread is not known: it is chosen so that the weighted squares come to
their degrees of freedom (Paule & Mandel 1982), and intervals are Student's t over what is left (as Hartung &
Knapp 2001).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from evenhand.practising.mixtures import t_975

Floats = NDArray[np.float64]

_ZOOMS, _POINTS = 6, 16
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
        """Return what a row of the basis comes to, with its 95 % range."""
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
        Shape (n, p), n more than p.
    y, errors
        Shape (n,): figures and their standard errors, which may be nought.
    """
    dof = len(y) - basis.shape[1]
    between = between_days(basis, y, errors)
    weights = 1 / (errors**2 + between**2)
    coefficients, inverse, squares = weighted(basis, y, weights)
    scale = max(squares / dof, 1.0)
    return Fit(coefficients, inverse * scale, weights, squares, scale, between, dof)


def weighted(basis: Floats, y: Floats, weights: Floats) -> tuple[Floats, Floats, float]:
    """Return coefficients, the inverse of the normal matrix, and the squares left over."""
    root = np.sqrt(weights)
    rows, right = basis * root[:, None], y * root
    inverse = np.asarray(np.linalg.inv(rows.T @ rows), dtype=np.float64)
    coefficients = inverse @ (rows.T @ right)
    left = right - rows @ coefficients
    return coefficients, inverse, float(left @ left)


def between_days(basis: Floats, y: Floats, errors: Floats) -> float:
    """Return the spread between days at which the weighted squares come to their degrees of freedom."""
    dof = len(y) - basis.shape[1]
    smallest = SMALLEST_SHARE * max(float(np.ptp(y)), float(np.abs(y).max()), 1e-12)
    low, high = smallest, 10 * float(np.std(y)) + smallest
    if squares_left(basis, y, _weights(errors, np.array([low])))[0] <= dof:
        return low
    for _ in range(_ZOOMS):
        between = np.geomspace(low, high, _POINTS)
        too_small = np.flatnonzero(squares_left(basis, y, _weights(errors, between)) > dof)
        last = int(too_small[-1]) if len(too_small) else 0
        low, high = between[last], between[min(last + 1, _POINTS - 1)]
    return float(np.sqrt(low * high))


def _weights(errors: Floats, between: Floats) -> Floats:
    return np.asarray(1 / (errors**2 + between[:, None] ** 2))


def squares_left(bases: Floats, y: Floats, weights: Floats) -> Floats:
    """Return the weighted squares left over by many bases, or under many weights, at once.

    Bases are of shape (n, p) or (n_fits, n, p), weights (n,) or (n_fits, n); the result (n_fits,).
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
