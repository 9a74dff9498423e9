"""How each figure of a student went over the weeks: its change, its learning curve, its plateau.

Conventions: a day's takes count as one figure, for they share the day's form. Spreads are positive and their
errors are shares, so their change is fitted on the logarithm and given in % a week.

``x_days`` counts from the exercise's first take; a change is what the fitted trajectory does, a
positive one upwards. Measures go by their place in a take's JSON, as in ``progress.history``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

import numpy as np

from evenhand.arrays import Floats
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Exercise, Hand
from evenhand.music.strokes.heights import StrokeClass
from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.progress.history import PastTake
from evenhand.progress.statistics import Fit, error_of, fit, log_error_of
from evenhand.progress.trends.learning_curve import Curve, learning_curve, plateau

Better = Literal["lower", "nearer nought", "higher", "neither"]
Direction = Literal["better", "worse", "changed", "can't tell"]
Reach = Literal["reached", "may be reached", "can't tell"]


@dataclass(frozen=True, slots=True)
class FollowedMeasure:
    """A measure that is followed. ``place`` has ``{hand}`` in it where each hand has its own.

    ``least_range`` is the least that a picture shows, so that a steady trajectory looks steady. ``nought`` is
    the value that means "no difference", ``scale`` turns the take's figure into ``unit``.
    """

    place: str
    words: str
    unit: str
    better: Better
    least_range: float
    nought: float = 0.0
    scale: float = 1.0

    @property
    def on_log(self) -> bool:
        """Tell whether it is a spread: positive, its change a share."""
        return self.better == "lower"


@dataclass(frozen=True, slots=True)
class TrajectoryPoint:
    """One take's figure."""

    take: PastTake
    x_days: float
    measure: Measure


@dataclass(frozen=True, slots=True)
class TrendChange:
    """What a straight trajectory does over the days seen.

    ``per_week`` is in the measure's unit, or in % where the measure is followed on its
    logarithm. ``direction`` is "can't tell" where chance and between-day variance would do as well.
    """

    per_week: Measure
    start: Measure
    end: Measure
    between: float  # between-day spread, in the unit or as a share
    direction: Direction


@dataclass(frozen=True, slots=True)
class LearningCurve:
    """An exponential learning curve that the data bear: where it ends, and how fast it gets there.

    ``line`` has days and values, for drawing.
    """

    end: Measure
    half_life_days: Measure
    line: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Plateau:
    """Since when nothing has changed by more than chance, after it had: days from the first take."""

    since_days: Measure
    level: Measure
    days: int  # of practice since


@dataclass(frozen=True, slots=True)
class MeasureTrajectory:
    """One measure of one hand (of both where ``hand`` is None) over the weeks.

    ``audible_from`` is what an ear can tell, where that is known: nearer to zero than that
    it can't be heard. ``line`` is the straight trajectory, days and values.
    """

    followed: FollowedMeasure
    hand: Hand | None
    points: tuple[TrajectoryPoint, ...]
    days: int
    audible_from: float | None = None
    change: TrendChange | None = None
    curve: LearningCurve | None = None
    plateau: Plateau | None = None
    line: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class WeekCeiling:
    """The ceiling of one week's repetitions alone, for drawing; open to a side where it is not bounded."""

    x_days: float
    ceiling: Measure
    at_least_bpm: float | None
    at_most_bpm: float | None
    repetitions: int


@dataclass(frozen=True, slots=True)
class WishedTempo:
    """When the ceiling may reach a wished tempo.

    ``x_days`` is in days from the first take. Where it can't be told, ``not_before_days``
    is what can: it is hardly sooner than that (one in forty).
    """

    tempo_bpm: float
    reach: Reach
    x_days: Measure
    not_before_days: float | None
    horizon_days: float  # further than that nothing is said
    chance_reached: float  # that the ceiling lies there already


@dataclass(frozen=True, slots=True)
class CeilingTrajectory:
    """The tempo ceiling of an exercise over the weeks, in beats a minute of ``beat``.

    ``band`` has days, the ceiling and its 95 % range, for drawing. ``now`` is the ceiling of the newest two
    weeks, the one that is planned by.
    """

    beat: Fraction
    weeks: tuple[WeekCeiling, ...]
    start: Measure
    end: Measure
    per_week: Measure  # %
    direction: Direction
    repetitions: int
    days: int
    band: tuple[tuple[float, float, float, float], ...] = ()
    wish: WishedTempo | None = None
    now: TempoCeiling | None = None


@dataclass(frozen=True, slots=True)
class ExerciseProgress:
    """One exercise, with one class of stroke."""

    exercise: Exercise
    stroke: StrokeClass | None
    takes: tuple[PastTake, ...]
    trajectories: tuple[MeasureTrajectory, ...]
    ceiling: CeilingTrajectory | None = None
    tempos_bpm: Mapping[str, float] = field(default_factory=dict)  # "first", "last": of the takes' own beat


@dataclass(frozen=True, slots=True)
class StudentProgress:
    """All exercises of a student that were heard more than once, and what told nothing."""

    student: str
    exercises: tuple[ExerciseProgress, ...]
    left_out: tuple[str, ...] = ()
    single: int = 0  # exercises heard on too few days to follow


FEWEST_DAYS = 4  # for a change
DAYS_A_WEEK = 7.0
LINE_POINTS = 41
SURE = (0.01, 1000.0)  # of the middle error: no take counts as surer, or as less sure

Line = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Days:
    """One figure a day: shape (n_days,), ``x`` rising. On the logarithm where the measure is followed so."""

    x: Floats
    y: Floats
    errors: Floats
    takes: int


def measure_trajectory(
    followed: FollowedMeasure,
    hand: Hand | None,
    points: Sequence[TrajectoryPoint],
    audible_from: float | None = None,
) -> MeasureTrajectory:
    """Follow a measure over its takes, in order of their days."""
    days = by_day(points, on_log=followed.on_log)
    n = len(days.x)
    if n < FEWEST_DAYS:
        return MeasureTrajectory(followed, hand, tuple(points), n, audible_from)
    straight = fit(np.column_stack([np.ones(n), days.x]), days.y, days.errors)
    found = _borne(followed, straight, days)
    return MeasureTrajectory(
        followed=followed,
        hand=hand,
        points=tuple(points),
        days=n,
        audible_from=audible_from,
        change=_change(followed, straight, days, found),
        curve=None if found is None else _curve(followed, found, days),
        plateau=_plateau(followed, days),
        line=_straight_line(followed, straight, days),
    )


def by_day(points: Sequence[TrajectoryPoint], *, on_log: bool) -> Days:
    """Take each day's takes together, each by how sure it is; a take without an interval is left out."""
    rows = []
    for point in points:
        error = log_error_of(point.measure) if on_log else error_of(point.measure)
        if error is not None and point.measure.value is not None:
            value = float(np.log(point.measure.value)) if on_log else point.measure.value
            rows.append((point.x_days, value, error))
    if not rows:
        return Days(np.zeros(0), np.zeros(0), np.zeros(0), 0)
    x, y, errors = (np.array(column, dtype=np.float64) for column in zip(*rows, strict=True))
    if errors.any():  # an interval of no width is a rounded one
        middle = float(np.median(errors[errors > 0]))
        errors = np.clip(errors, SURE[0] * middle, SURE[1] * middle)
    at, which = np.unique(x, return_inverse=True)
    sure = 1 / np.maximum(errors, 1e-9) ** 2
    total = np.bincount(which, weights=sure)
    return Days(at, np.bincount(which, weights=sure * y) / total, np.sqrt(1 / total), len(rows))


def _change(followed: FollowedMeasure, straight: Fit, days: Days, curve: Curve | None) -> TrendChange:
    """Say what a straight trajectory does; where there is a curve, it says where that began and is now."""
    slope, (low, high) = straight.at(np.array([0.0, 1.0]))
    if curve is None:
        start, end = (_measure(followed, straight, float(x), days) for x in (days.x[0], days.x[-1]))
    else:
        start, end = (Measure(v, days.takes, followed.unit, ci) for v, ci in (curve.first, curve.last))
    if followed.on_log:
        per_week = [100 * float(np.expm1(DAYS_A_WEEK * each)) for each in (slope, low, high)]
        unit = "%"
    else:
        per_week, unit = [DAYS_A_WEEK * each for each in (slope, low, high)], followed.unit
    changes = low > 0 or high < 0
    return TrendChange(
        per_week=Measure(per_week[0], days.takes, unit, (per_week[1], per_week[2])),
        start=start,
        end=end,
        between=straight.between,
        direction=_direction(followed, slope, start, end) if changes else "can't tell",
    )


def _direction(followed: FollowedMeasure, slope: float, start: Measure, end: Measure) -> Direction:
    """Say whether a change is for the better."""
    if followed.better == "neither":
        return "changed"
    if followed.better == "nearer nought":
        nought = followed.nought
        better = abs((end.value or 0.0) - nought) < abs((start.value or 0.0) - nought)
    else:
        better = (slope > 0) == (followed.better == "higher")
    return "better" if better else "worse"


def _measure(followed: FollowedMeasure, straight: Fit, x: float, days: Days) -> Measure:
    """Read a straight trajectory at a day."""
    value, ci95 = straight.at(np.array([1.0, x]))
    return Measure(
        _back(followed, value),
        days.takes,
        followed.unit,
        (_back(followed, ci95[0]), _back(followed, ci95[1])),
    )


def _back(followed: FollowedMeasure, value: float) -> float:
    return float(np.exp(value)) if followed.on_log else value


def _straight_line(followed: FollowedMeasure, straight: Fit, days: Days) -> Line:
    at = np.linspace(days.x[0], days.x[-1], LINE_POINTS if followed.on_log else 2)
    return tuple((float(x), _back(followed, straight.at(np.array([1.0, x]))[0])) for x in at)


def _borne(followed: FollowedMeasure, straight: Fit, days: Days) -> Curve | None:
    """Fit a learning curve in the figure's own unit; None where the days do not bear one."""
    y, errors = days.y, days.errors
    if followed.on_log:  # errors are shares of what the trajectory says, not of what chance made of it
        trajectory = np.exp(straight.coefficients[0] + straight.coefficients[1] * days.x)
        y, errors = np.exp(days.y), days.errors * trajectory
    found = learning_curve(days.x, y, errors)
    return found if found is not None and found.borne else None


def _curve(followed: FollowedMeasure, found: Curve, days: Days) -> LearningCurve:
    at = np.linspace(days.x[0], days.x[-1], LINE_POINTS)
    return LearningCurve(
        end=Measure(found.end, days.takes, followed.unit, found.end_ci95),
        half_life_days=Measure(found.half_life, days.takes, "days", found.half_life_ci95),
        line=tuple(zip(at.tolist(), found.at(at).tolist(), strict=True)),
    )


def _plateau(followed: FollowedMeasure, days: Days) -> Plateau | None:
    """Find a plateau after a change for the better."""
    hinge = plateau(days.x, days.y, days.errors)
    if hinge is None:
        return None
    start = hinge.level - hinge.slope * (hinge.since - float(days.x[0]))
    ends = (Measure(_back(followed, each), 0, followed.unit) for each in (start, hinge.level))
    if _direction(followed, hinge.slope, *ends) == "worse":
        return None
    level = (_back(followed, hinge.level_ci95[0]), _back(followed, hinge.level_ci95[1]))
    return Plateau(
        since_days=Measure(hinge.since, days.takes, "days", hinge.since_ci95),
        level=Measure(_back(followed, hinge.level), days.takes, followed.unit, level),
        days=hinge.days_after,
    )
