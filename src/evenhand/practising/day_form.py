"""Fit a course of figures so that form on the day is not taken for learning.

Conventions: ``x`` in days, one row a day, shape (n,). A day's figure strays from the course by its own error
and by the form on that day, whose spread is not known: it is chosen so that the weighted squares come to
their degrees of freedom (Paule & Mandel 1982), and intervals are Student's t over what is left (as Hartung &
Knapp 2001).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.practising.mixtures import t_975

Floats = NDArray[np.float64]

_HALVINGS = 80
SMALLEST_SHARE = 1e-9  # of the figures' range: what is smaller is rounding


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
        """Return what a row of the basis comes to, with its 95 % interval."""
        value = float(row @ self.coefficients)
        reach = t_975(self.dof) * math.sqrt(max(float(row @ self.covariance @ row), 0.0))
        return value, (value - reach, value + reach)


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
    inverse = np.asarray(np.linalg.pinv(rows.T @ rows), dtype=np.float64)
    coefficients = inverse @ (rows.T @ right)
    left = right - rows @ coefficients
    return coefficients, inverse, float(left @ left)


def between_days(basis: Floats, y: Floats, errors: Floats) -> float:
    """Return the spread between days at which the weighted squares come to their degrees of freedom."""
    dof = len(y) - basis.shape[1]
    smallest = SMALLEST_SHARE * max(float(np.ptp(y)), float(np.abs(y).max()), 1e-12)
    low, high = smallest, 10 * float(np.std(y)) + smallest

    def squares(between: float) -> float:
        return weighted(basis, y, 1 / (errors**2 + between**2))[2]

    if squares(low) <= dof:
        return low
    for _ in range(_HALVINGS):
        middle = float(np.sqrt(low * high))
        low, high = (middle, high) if squares(middle) > dof else (low, middle)
        if high / low < 1 + 1e-6:
            break
    return float(np.sqrt(low * high))


def chance_of_squares(gained: float, fit_: Fit, parameters: int = 2) -> float:
    """Return how likely chance alone gains so many squares by two more parameters (F test, 2 and dof).

    >>> nothing = Fit(np.zeros(3), np.eye(3), np.ones(13), 10.0, 1.0, 0.0, 10)
    >>> round(chance_of_squares(2 * 4.103, nothing), 3)
    0.05
    """
    f = max(gained, 0.0) / parameters / fit_.scale
    return float((1 + 2 * f / fit_.dof) ** (-fit_.dof / 2))
