"""A plateau: since when a figure has not changed by more than chance, though before it had.

Conventions: one row a day, shape (n,), ``x`` in days, rising. The course is a straight line up to some
day and level from then on (a hinge). It counts where it beats both no change at all and a line that goes
on, where what comes after shows no slope of its own, and where that has lasted: conventions below.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenhand.practising.day_form import Fit, Floats, chance_of_squares, fit, reach_of, squares_left, weighted

BEFORE, AFTER = 4, 5  # days of practice that lie on either side at least
LASTED_DAYS = 10.0
CHANCE_OF_FLAT = 0.01
CHANCE_OF_LINE = 0.05  # of two more parameters: the day of the hinge was looked for, too
_ROUNDS, _FINE = 2, 60


@dataclass(frozen=True)
class Hinge:
    """The day from which on the course is level, its interval, the slope before it, and the level."""

    since: float
    since_ci95: tuple[float, float]
    slope: float  # a day
    level: float
    level_ci95: tuple[float, float]
    days_after: int


def plateau(x: Floats, y: Floats, errors: Floats) -> Hinge | None:
    """Find a plateau at the end of a course; None where there is none."""
    places = [place for place in range(BEFORE - 1, len(x) - AFTER) if x[-1] - x[place] >= LASTED_DAYS]
    if not places:
        return None
    bases = _bases(x, x[places])
    weights = np.ones(len(x))
    for _ in range(_ROUNDS):
        squares = squares_left(bases, y, weights)
        best = int(squares.argmin())
        found = fit(bases[best], y, errors)
        weights = found.weights
    squares = squares_left(bases, y, weights)
    best = int(squares.argmin())
    if not _counts(x, y, errors, found, float(squares[best]), places[best]):
        return None
    level, ci95 = found.at(bases[best][-1])
    return Hinge(
        since=float(x[places[best]]),
        since_ci95=_since(x, y, found, float(x[places[best]])),
        slope=float(found.coefficients[1]),
        level=level,
        level_ci95=ci95,
        days_after=len(x) - 1 - places[best],
    )


def _since(x: Floats, y: Floats, found: Fit, best: float) -> tuple[float, float]:
    """Return the days at which the hinge would leave no more squares than chance allows."""
    at = np.append(np.linspace(x[0], x[-1], _FINE + 2)[1:-1], best)
    squares = squares_left(_bases(x, at), y, found.weights)
    room = reach_of(len(x) - 3) ** 2 * found.scale
    inside = at[squares - squares.min() <= room]
    return min(float(inside.min()), best), max(float(inside.max()), best)


def _bases(x: Floats, hinges: Floats) -> Floats:
    """Return the basis of each hinge, shape (n_hinges, n, 2)."""
    level = np.minimum(x, hinges[:, None]) - x[0]
    return np.stack([np.ones_like(level), level], axis=-1)


def _straight(x: Floats) -> Floats:
    return np.column_stack([np.ones(len(x)), x - x[0]])


def _counts(x: Floats, y: Floats, errors: Floats, found: Fit, squares: float, place: int) -> bool:
    """Tell whether the hinge beats no change and a straight line, and is level from then on."""
    flat = weighted(np.ones((len(x), 1)), y, found.weights)[2]
    line = weighted(_straight(x), y, found.weights)[2]
    if chance_of_squares(flat - squares, found) >= CHANCE_OF_FLAT:
        return False
    if chance_of_squares(line - squares, found) >= CHANCE_OF_LINE:
        return False
    after = slice(place, None)
    level = fit(_straight(x[after]), y[after], errors[after])
    _, (low, high) = level.at(np.array([0.0, 1.0]))
    return low <= 0 <= high
