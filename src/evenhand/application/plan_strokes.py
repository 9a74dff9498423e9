"""Plan an exercise's strokes: what the command line, the sheet and the play-along build on."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from evenhand.application.asked import Asked
from evenhand.craft.blows import Step, steps_of
from evenhand.craft.doubles import Doubles, doubles_of
from evenhand.craft.free_heights import HandLimits, limits_of
from evenhand.craft.lengths import CM_IN
from evenhand.craft.rebound import ASSUMED_RESTITUTION, free_height_cm
from evenhand.craft.stroke_plan import StrokePlan, plan_strokes
from evenhand.craft.stroke_remarks import Need, need_of
from evenhand.domain.exercise import Exercise
from evenhand.domain.stroke import (
    COMMON_HEIGHTS,
    STROKE_CLASSES,
    HeightRange,
    PlannedStroke,
    StrokeClass,
    StrokeHeights,
    Unit,
)
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions

HIGHEST_CM = 100.0
BOTH = "an exercise and its tempo, such as --exercise '1/16: >RLRR >LRLL' --tempo 1/4=60"
_RANGE = re.compile(r"(tap|half|full)\s*=\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class StrokeWishes:
    """How an exercise is to be played: the class of stroke, the heights, and how lively the drum is."""

    stroke: StrokeClass | None = None
    heights: StrokeHeights = COMMON_HEIGHTS
    restitution: float = ASSUMED_RESTITUTION
    unit: Unit = "in"


@dataclass(frozen=True, slots=True)
class TimedStroke:
    """A stroke with the time to its hand's next blow.

    ``free_cm`` is the greatest height that a free rebound allows in it, None after a buzz. ``need`` is what
    the planned height takes beside rebound and weight, None for nothing.
    """

    stroke: PlannedStroke
    interval_s: float
    free_cm: float | None
    need: Need | None


@dataclass(frozen=True, slots=True)
class PlannedExercise:
    """An exercise with its strokes planned at a tempo."""

    exercise: Exercise
    exercise_text: str
    tempo: Tempo
    wishes: StrokeWishes
    steps: tuple[Step, ...]
    plan: StrokePlan
    limits: tuple[HandLimits, ...]
    doubles: tuple[Doubles, ...]

    def timed(self) -> list[TimedStroke]:
        """Return each stroke with the time to its hand's next blow, and what rises in that time."""
        times = zip(self.plan.strokes, self.steps, self.plan.own_intervals_s or (), strict=True)
        return [self._timed(stroke, step, interval_s) for stroke, step, interval_s in times]

    def _timed(self, stroke: PlannedStroke, step: Step, interval_s: float) -> TimedStroke:
        if step.blow.buzz:
            return TimedStroke(stroke, interval_s, None, None)
        bounced = self.plan.strokes[step.to].bounce
        need = None if bounced else need_of(stroke.after_cm, interval_s)
        return TimedStroke(stroke, interval_s, free_height_cm(interval_s), need)


def plan_exercise(asked: Asked, wishes: StrokeWishes | None = None) -> PlannedExercise:
    """Plan the strokes of an exercise at its tempo."""
    if asked.exercise is None or asked.tempo is None:
        raise WrongOptions(got="no exercise", must_be=BOTH)
    exercise, tempo, wishes = asked.exercise, asked.tempo, wishes or StrokeWishes()
    steps = steps_of(exercise)
    plan = plan_strokes(
        exercise,
        stroke=wishes.stroke,
        heights=wishes.heights,
        tempo=tempo,
        restitution=wishes.restitution,
        unit=wishes.unit,
    )
    return PlannedExercise(
        exercise=exercise,
        exercise_text=asked.exercise_text or "",
        tempo=tempo,
        wishes=wishes,
        steps=steps,
        plan=plan,
        limits=limits_of(steps, tempo, wishes.heights, wishes.restitution),
        doubles=doubles_of(steps, plan.strokes, tempo, wishes.restitution),
    )


def read_asked(exercise: str | None, tempo: str | None) -> Asked:
    """Read what is to be planned; there is nothing to plan without both."""
    given = [name for name, text in (("exercise", exercise), ("tempo", tempo)) if (text or "").strip()]
    if len(given) < 2:
        raise WrongOptions(got=f"only the {given[0]}" if given else "no exercise", must_be=BOTH)
    return Asked.read(exercise, tempo)


def read_heights(text: str, unit: Unit) -> StrokeHeights:
    """Read heights as ``tap=3-5 half=6-9 full=10-12``; a class that isn't named keeps its common one.

    >>> read_heights("tap=2-4", "in").tap.aim_cm
    7.62
    """
    ranges: dict[str, HeightRange] = {}
    for part in text.replace(",", " ").split():
        found = _RANGE.fullmatch(part)
        if found is None:
            raise WrongOptions(got=f"heights {part!r}", must_be="such as tap=3-5 half=6-9 full=10-12")
        low, high = (float(found[i]) * CM_IN[unit] for i in (2, 3))
        ranges[found[1]] = HeightRange(low, high, (low + high) / 2)
    heights = replace(COMMON_HEIGHTS, **ranges)
    _check_heights(heights, text)
    return heights


def _check_heights(heights: StrokeHeights, text: str) -> None:
    """Refuse heights that are upside down or out of any hand's reach."""
    edges = [edge for each in STROKE_CLASSES for edge in (heights.of(each).low_cm, heights.of(each).high_cm)]
    if edges != sorted(edges) or edges[0] <= 0 or edges[-1] > HIGHEST_CM:
        raise WrongOptions(
            got=f"heights {text!r}",
            must_be=f"rising from tap over half to full, over 0 and up to {HIGHEST_CM:g} cm",
        )
