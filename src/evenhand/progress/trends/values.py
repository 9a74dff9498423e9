"""How a student's figures went over the weeks: each exercise, hand and measure for itself.

Conventions: ``x_days`` counts from the exercise's first take; a change is what the fitted trajectory does, a
positive one upwards. Measures go by their place in a take's JSON, as in ``domain.history``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from evenhand.measuring.values import Measure
from evenhand.music.exercise import Exercise, Hand
from evenhand.music.strokes.heights import StrokeClass
from evenhand.progress.history import PastTake

Better = Literal["lower", "nearer nought", "higher", "neither"]
Direction = Literal["better", "worse", "changed", "can't tell"]
Reach = Literal["reached", "may be reached", "can't tell"]


@dataclass(frozen=True, slots=True)
class FollowedMeasure:
    """A measure that is followed. ``place`` has ``{hand}`` in it where each hand has its own.

    ``least_range`` is the least that a picture shows, so that a steady trajectory looks steady.
    """

    place: str
    words: str
    unit: str
    better: Better
    least_range: float

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

    ``band`` has days, the ceiling and its 95 % range, for drawing.
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
