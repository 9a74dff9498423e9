"""Drops of the stick as values, and the law of a bouncing stick fitted to the times of its blows.

A stick that keeps the share e of its speed at every blow flies for T_k = T_0 e^k after blow k, so ln T_k is
a straight line in k with slope ln e. Two things disturb it: each time is heard a little off (ms, the same
error in two neighbouring flights, and heavier for the short ones), and e itself differs a little from blow
to blow, which stays in all later flights (a random walk in ln T). How much of each is not known: a grid of
both is weighed by the restricted likelihood, and what is said of e is the mixture over the grid.

Conventions: times in seconds from the first decoded sample, rising, shape (n,); ``numbers`` say which blow
each is, from 0; heights in cm as of a free fall; restitution is e.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenhand.arrays import Floats, Ints, from_logs
from evenhand.measuring.values import Measure
from evenhand.progress.statistics import middle_95
from evenhand.take import InputFacts, Remark

DropKind = Literal["free", "damped", "unsure"]
Agreement = Literal["agree", "differ", "can't tell"]


@dataclass(frozen=True, slots=True)
class SeenDrop:
    """What a film shows of a drop: from how high, and how high each flight went that can be told.

    ``restitution`` is by these heights; ``agrees`` says whether it fits that by the flights' times.
    """

    drop_height_cm: Measure
    heights_cm: tuple[float, ...]
    restitution: Measure
    agrees: Agreement


@dataclass(frozen=True, slots=True)
class HeardDrop:
    """One drop and what followed by itself.

    ``hits_s`` are the blows that were heard; ``bounces`` counts also those that must have been in
    between. ``first_height_cm`` is where the stick was dropped from, ``rebound_height_cm`` how high it came
    after its first blow. ``label`` is the grip or the hand, where that is known. ``why`` says in a
    sentence what makes the drop free, damped or unsure.
    """

    start_s: float
    hits_s: tuple[float, ...]
    bounces: int
    rings_s: float  # from the first blow to the last that was heard
    restitution: Measure
    first_height_cm: Measure
    rebound_height_cm: Measure
    kind: DropKind
    why: Remark
    label: str | None = None
    damped_from_s: float | None = None
    seen: SeenDrop | None = None


@dataclass(frozen=True, slots=True)
class LabelBounce:
    """All free drops of one grip or hand."""

    label: str
    drops: int  # all of them, damped and unsure ones too
    free: int
    restitution: Measure
    bounces: Measure


@dataclass(frozen=True, slots=True)
class BounceComparison:
    """Which of two labels keeps more of its speed: ``difference`` is first minus second."""

    first: str
    second: str
    difference: Measure
    longer: str | None  # None: can't tell


@dataclass(frozen=True, slots=True)
class HeardBounce:
    """One take of drops. ``longest`` is the label that bounces longest; None: can't tell, or no labels."""

    input: InputFacts
    drops: tuple[HeardDrop, ...]
    labels: tuple[LabelBounce, ...]
    comparisons: tuple[BounceComparison, ...]
    longest: str | None
    name: str
    version: str
    stray_s: tuple[float, ...] = ()
    warnings: tuple[str, ...] = ()


G_CM_PER_S2 = 980.665
FEWEST_BLOWS = 3
MOST_KEPT = 0.975  # of its speed at a blow; what hardly gets quicker was played
TIMING_S = (0.03e-3, 0.1e-3, 0.2e-3, 0.4e-3, 0.8e-3, 1.6e-3)
USUAL_TIMING_S, TIMING_FACTOR = (
    0.2e-3,
    3.0,
)  # what the ear's error is like (docs/bounce.md), and within what factor
UNEVENNESS = (0.002, 0.005, 0.01, 0.02, 0.04, 0.08, 0.16)
USUAL_UNEVENNESS, UNEVENNESS_FACTOR = 0.015, 3.0


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and where it lies with 95 % certainty."""

    value: float
    ci95: tuple[float, float]


@dataclass(frozen=True, slots=True)
class LawFit:
    """What the times say: over a grid of models, each shape (n_models,).

    ``start`` and ``slope`` are ln T_0 and ln e; ``cov`` (n_models, 2, 2) their covariance; ``unevenness``
    the spread of ln e from blow to blow; ``timing_s`` the error of a heard time.
    """

    weight: Floats
    start: Floats
    slope: Floats
    cov: Floats
    unevenness: Floats
    timing_s: Floats
    n_flights: int

    @property
    def log_kept(self) -> float:
        """Return the best ln e."""
        return float(self.weight @ self.slope)

    def restitution(self) -> Estimate:
        """Return e with its interval."""
        low, high = middle_95(self.slope, np.sqrt(self.cov[:, 1, 1]), self.weight)
        return Estimate(math.exp(self.log_kept), (math.exp(low), min(math.exp(high), 1.0)))

    def rebound_height_cm(self) -> Estimate:
        """Return how high the stick came after its first blow: g T_0^2 / 8."""
        return self._height(2 * self.start, 4 * self.cov[:, 0, 0])

    def first_height_cm(self) -> Estimate:
        """Return where it was dropped from: the rebound's height over e squared, of the very first blow."""
        step = np.array([1.0, -1.0])
        spread = np.einsum("i,mij,j->m", step, self.cov, step) + self.unevenness**2
        return self._height(2 * (self.start - self.slope), 4 * spread)

    def _height(self, log_square: Floats, variance: Floats) -> Estimate:
        low, high = middle_95(log_square, np.sqrt(variance), self.weight)
        value = float(self.weight @ log_square)
        return Estimate(_in_cm(value), (_in_cm(low), _in_cm(high)))

    def next_log_flight(self, number: int) -> tuple[float, float]:
        """Return what ln T of flight ``number``, the one after the last fitted, should be, and its spread."""
        row = np.array([1.0, float(number)])
        means = self.start + self.slope * number
        spread = np.einsum("i,mij,j->m", row, self.cov, row) + self.unevenness**2 * number
        spread = spread + 2 * (self.timing_s * np.exp(-means)) ** 2
        mean = float(self.weight @ means)
        return mean, math.sqrt(float(self.weight @ (spread + (means - mean) ** 2)))


def _in_cm(log_square_s: float) -> float:
    """Turn the logarithm of a flight's square into how high it went."""
    return G_CM_PER_S2 / 8 * math.exp(log_square_s)


def fit_law(times_s: Floats, numbers: Ints) -> LawFit | None:
    """Fit the law to one drop; None where fewer than three blows were heard.

    Parameters
    ----------
    times_s : shape (n_blows,), seconds, rising
    numbers : shape (n_blows,), which blow each is, from 0
    """
    if len(times_s) < FEWEST_BLOWS:
        return None
    flights, at, spans = np.diff(times_s), numbers[:-1].astype(np.float64), np.diff(numbers)
    if (flights <= 0).any():
        return None
    kept = 0.8
    for _ in range(4 if (spans > 1).any() else 1):  # flights that span unheard blows need e to be read
        logs = np.log(flights) - np.log((1 - kept**spans) / (1 - kept))
        fit = _weighed(logs, at, flights)
        kept = min(max(math.exp(fit.log_kept), 0.2), 0.98)
    return fit


def _weighed(logs: Floats, at: Floats, flights: Floats) -> LawFit:
    """Weigh the grid by the restricted likelihood of a straight line."""
    uneven, timing = (grid.ravel() for grid in np.meshgrid(UNEVENNESS, TIMING_S, indexing="ij"))
    covariance = _covariances(at, flights, uneven, timing)
    design = np.column_stack([np.ones_like(at), at])
    inverse = np.linalg.inv(covariance)
    information = design.T @ inverse @ design
    cov = np.linalg.inv(information)
    best = np.einsum("mij,mj->mi", cov, design.T @ inverse @ logs)
    rest = logs - best @ design.T
    squares = np.einsum("mi,mij,mj->m", rest, inverse, rest)
    log_weight = -0.5 * (np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1] + squares)
    log_weight = log_weight + _prior(uneven, timing)
    return LawFit(from_logs(log_weight), best[:, 0], best[:, 1], cov, uneven, timing, len(logs))


def _covariances(at: Floats, flights: Floats, uneven: Floats, timing: Floats) -> Floats:
    """Return the covariance of ln T under every model of the grid, shape (n_models, n, n)."""
    walk = np.minimum(at[:, None], at[None, :])
    heard = np.diag(2 / flights**2)
    near = np.arange(len(flights) - 1)
    heard[near, near + 1] = heard[near + 1, near] = -1 / (flights[:-1] * flights[1:])
    ridge = 1e-10 * np.eye(len(flights))
    return uneven[:, None, None] ** 2 * walk + timing[:, None, None] ** 2 * heard + ridge


def _prior(uneven: Floats, timing: Floats) -> Floats:
    """Return the logarithm of what is thought of each model beforehand."""
    one = np.log(uneven / USUAL_UNEVENNESS) / math.log(UNEVENNESS_FACTOR)
    other = np.log(timing / USUAL_TIMING_S) / math.log(TIMING_FACTOR)
    return np.asarray(-0.5 * (one**2 + other**2))
