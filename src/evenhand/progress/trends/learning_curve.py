"""The exponential learning curve of one student, y = end + gain exp(-rate x); and a plateau, a hinge.

Exponential, since single learners follow it and the power law comes from averaging them (Heathcote, Brown &
Mewhort 2000, Psychon. Bull. Rev. 7:185-207); nothing here averages students. Given the rate, end and gain are
linear and solved for (variable projection, Golub & Pereyra 1973), so only the rate is looked for: on a grid,
then finely. Intervals are those of the profile: what can be changed before the squares rise by more than
chance. A plateau is a straight line up to some day and level from then on. It counts where it beats both no
change at all and a line that goes on, where what comes after shows no slope of its own, and where it lasted.

Conventions: ``x`` in days or takes, rising, one row each, shape (n,).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats
from evenhand.progress.statistics import Fit, chance_of_squares, fit, reach_of, squares_left, weighted

FEWEST = 7  # days
RATES = 120
LONGEST_HALF_LIFE = 3.0  # spans: what is slower looks straight
SHORTEST_HALF_LIFE = 0.5  # of the middle step from day to day
MOST_CHANCE = 0.01  # that nothing changes; stricter than 0.05, for the rate is free to find chance's pattern
_NEAR = np.geomspace(1e-8, 0.05, 40)  # as a share: so close to the best rate it is looked once more
_ROUNDS, _ROUGH, _FINE, _ZOOM_POINTS = 2, 2, 8, 21


@dataclass(frozen=True)
class Curve:
    """A curve with its 95 % ranges; ``borne`` says whether the data bear it."""

    end: float
    gain: float
    rate: float
    end_ci95: tuple[float, float]
    rate_ci95: tuple[float, float]
    first: tuple[float, tuple[float, float]]  # the curve on the first day, and its interval
    last: tuple[float, tuple[float, float]]
    identified: bool  # neither a straight line nor a single step would do as well
    chance: float  # how likely a trajectory that never changes would look so
    fit: Fit

    @property
    def borne(self) -> bool:
        """Tell whether it beats no change at all and its shape is told."""
        return self.identified and self.chance < MOST_CHANCE

    @property
    def half_life(self) -> float:
        """How long it takes to come half of the way that is left."""
        return math.log(2) / self.rate

    @property
    def half_life_ci95(self) -> tuple[float, float]:
        """Its interval."""
        slow, fast = self.rate_ci95
        return math.log(2) / fast, math.log(2) / slow

    def at(self, x: Floats) -> Floats:
        """Return the curve.

        Parameters
        ----------
        x : shape (n,)

        Returns
        -------
        shape (n,)
        """
        return np.asarray(self.end + self.gain * np.exp(-self.rate * x))


@dataclass(frozen=True)
class _Profile:
    """The best end and gain at each rate, their variances, the squares left over; shape (n_rates,)."""

    rates: Floats
    end: Floats
    gain: Floats
    end_variance: Floats
    gain_variance: Floats
    squares: Floats
    middle: Floats  # the mean fall, at which the figure is known best
    middle_variance: float

    def at(self, since: float) -> tuple[Floats, Floats]:
        """Return the curve's value so long after the first day, and its variance, at each rate."""
        fall = np.exp(-self.rates * since)
        return self.end + self.gain * fall, self.middle_variance + (
            fall - self.middle
        ) ** 2 * self.gain_variance


def learning_curve(x: Floats, y: Floats, errors: Floats) -> Curve | None:
    """Fit the curve; None where there are too few days for one.

    Parameters
    ----------
    x, y, errors
        shape (n,), ``x`` rising: when, the figure, its standard error, which may be zero.
    """
    if len(x) < FEWEST or x[-1] <= x[0]:
        return None
    since = x - x[0]
    rates = _grid(since)
    weights = np.ones(len(x))
    for _ in range(_ROUNDS):
        rate = _best(rates, since, y, weights, _ROUGH)
        found = fit(np.column_stack([np.ones(len(x)), np.exp(-rate * since)]), y, errors)
        weights = found.weights
    dof = len(x) - 3  # the rate was looked for, too
    found = replace(found, dof=dof, scale=max(found.squares / dof, 1.0))
    return _with_intervals(found, rates, since, y, float(x[0]))


def _grid(since: Floats) -> Floats:
    """Return the rates that are looked at, rising."""
    span, step = float(since[-1]), float(np.median(np.diff(since)))
    slowest = math.log(2) / (LONGEST_HALF_LIFE * span)
    fastest = math.log(2) / min(SHORTEST_HALF_LIFE * step, span / 4)
    return np.geomspace(slowest, fastest, RATES)


def _profile(rates: Floats, since: Floats, y: Floats, weights: Floats) -> _Profile:
    """Solve for end and gain at each rate."""
    falls = np.exp(-rates[:, None] * since)
    total = weights.sum()
    mean_fall, mean = falls @ weights / total, float(y @ weights / total)
    off, left = falls - mean_fall[:, None], y - mean
    width = off**2 @ weights
    gain = (off * left) @ weights / width
    squares = (left - gain[:, None] * off) ** 2 @ weights
    return _Profile(
        rates=rates,
        end=mean - gain * mean_fall,
        gain=gain,
        end_variance=1 / total + mean_fall**2 / width,
        gain_variance=1 / width,
        squares=squares,
        middle=mean_fall,
        middle_variance=float(1 / total),
    )


def _best(rates: Floats, since: Floats, y: Floats, weights: Floats, zooms: int) -> float:
    """Find the rate with the least squares: on the grid, then ever finer around it."""
    for _ in range(zooms):
        place = int(_profile(rates, since, y, weights).squares.argmin())
        best = float(rates[place])
        low, high = rates[max(place - 1, 0)], rates[min(place + 1, len(rates) - 1)]
        rates = np.geomspace(low, high, _ZOOM_POINTS)
    return best


def _with_intervals(found: Fit, rates: Floats, since: Floats, y: Floats, first: float) -> Curve:
    """Give each figure the span it can take before the squares rise by more than chance."""
    rate = _best(rates, since, y, found.weights, _FINE)
    near = rate * np.exp(np.concatenate([-_NEAR, [0.0], _NEAR]))
    profile = _profile(np.sort(np.concatenate([rates, near])), since, y, found.weights)
    room = reach_of(found.dof) ** 2 * found.scale
    spare = room - (profile.squares - profile.squares.min())
    inside = spare >= 0
    inner = profile.rates[inside]
    best = int(profile.squares.argmin())
    shift = math.exp(rate * first)  # the profile counts from the first day
    ends = (profile.at(0.0), profile.at(float(since[-1])))
    first_day, last_day = ((float(at[best]), _span(at, var, spare, inside)) for at, var in ends)
    flat = weighted(np.ones((len(y), 1)), y, found.weights)[2]
    return Curve(
        end=float(profile.end[best]),
        gain=float(profile.gain[best]) * shift,
        rate=rate,
        end_ci95=_span(profile.end, profile.end_variance, spare, inside),
        rate_ci95=(float(inner[0]), float(inner[-1])),
        first=first_day,
        last=last_day,
        identified=bool(inner[0] > rates[0] and inner[-1] < rates[-1]),
        chance=chance_of_squares(flat - found.squares, found),
        fit=found,
    )


def _span(values: Floats, variances: Floats, spare: Floats, inside: Bools) -> tuple[float, float]:
    reach = np.sqrt(variances[inside] * spare[inside])
    return float((values[inside] - reach).min()), float((values[inside] + reach).max())


BEFORE, AFTER = 4, 5  # days of practice that lie on either side at least
LASTED_DAYS = 10.0
CHANCE_OF_FLAT = 0.01
CHANCE_OF_LINE = 0.05  # of two more parameters: the day of the hinge was looked for, too
_PLATEAUS_ROUNDS, _PLATEAUS_FINE = 2, 60


@dataclass(frozen=True)
class Hinge:
    """The day from which on the trajectory is level, its interval, the slope before it, and the level."""

    since: float
    since_ci95: tuple[float, float]
    slope: float  # a day
    level: float
    level_ci95: tuple[float, float]
    days_after: int


def plateau(x: Floats, y: Floats, errors: Floats) -> Hinge | None:
    """Find a plateau at the end of a trajectory; None where there is none.

    Parameters
    ----------
    x, y, errors : shape (n_days,): days, rising; figures; their standard errors
    """
    places = [place for place in range(BEFORE - 1, len(x) - AFTER) if x[-1] - x[place] >= LASTED_DAYS]
    if not places:
        return None
    bases = _bases(x, x[places])
    weights = np.ones(len(x))
    for _ in range(_PLATEAUS_ROUNDS):
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
    at = np.append(np.linspace(x[0], x[-1], _PLATEAUS_FINE + 2)[1:-1], best)
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
