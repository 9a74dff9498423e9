"""The exponential learning curve of one student: y = end + gain exp(-rate x).

Conventions: ``x`` in days or takes, one row each, shape (n,). Exponential, since single learners follow it
and the power law comes from averaging them (Heathcote, Brown & Mewhort 2000, Psychon. Bull. Rev. 7:185-207);
nothing here averages students.

Given the rate, end and gain are linear and solved for (variable projection, Golub & Pereyra 1973), so only
the rate is looked for: on a grid, then finely. Intervals are those of the profile: what can be changed before
the squares rise by more than chance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenhand.practising.day_form import Fit, Floats, chance_of_squares, fit, reach_of, weighted

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
    gain_ci95: tuple[float, float]
    rate_ci95: tuple[float, float]
    first: tuple[float, tuple[float, float]]  # the curve on the first day, and its interval
    last: tuple[float, tuple[float, float]]
    identified: bool  # neither a straight line nor a single step would do as well
    chance: float  # how likely a course that never changes would look so
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
        """Return the curve, shape (n,)."""
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
        Shape (n,), ``x`` rising: when, the figure, its standard error, which may be nought.
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
        gain_ci95=_span(profile.gain * shift, profile.gain_variance * shift**2, spare, inside),
        rate_ci95=(float(inner[0]), float(inner[-1])),
        first=first_day,
        last=last_day,
        identified=bool(inner[0] > rates[0] and inner[-1] < rates[-1]),
        chance=chance_of_squares(flat - found.squares, found),
        fit=found,
    )


def _span(values: Floats, variances: Floats, spare: Floats, inside: NDArray[np.bool_]) -> tuple[float, float]:
    reach = np.sqrt(variances[inside] * spare[inside])
    return float((values[inside] - reach).min()), float((values[inside] + reach).max())
