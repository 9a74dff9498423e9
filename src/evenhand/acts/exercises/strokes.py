"""Plan an exercise's strokes: what the command line, the sheet and the play-along build on.

A stroke plan as JSON (docs/strokes.md).

Conventions: cm to 0.001, seconds to a microsecond, beats a minute to 0.01; lengths are always cm here.

Draw stick height against tempo for a planned exercise.

Conventions: heights cm; tempi in beats a minute of the tempo's own beat.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from evenhand.acts.documents import Json, json_of, plain
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import WrongOptions
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo, whole_note_s
from evenhand.music.strokes.heights import (
    CM_IN,
    COMMON_HEIGHTS,
    STROKE_CLASSES,
    HeightRange,
    PlannedStroke,
    StrokeClass,
    StrokeHeights,
    Unit,
)
from evenhand.music.strokes.plan import StrokePlan, plan_strokes
from evenhand.music.strokes.rebound import (
    ASSUMED_RESTITUTION,
    HandLimits,
    Step,
    free_height_cm,
    is_way,
    limits_of,
    rise_height_cm,
    steps_of,
)
from evenhand.music.strokes.remarks import Doubles, Need, StrokeRemark, bounces_of, doubles_of, need_of
from evenhand.report.plots.markup import Point
from evenhand.report.plots.reach import HeightChart, HeightCurve
from evenhand.report.words.strokes import stroke_remark_words

HIGHEST_CM = 100.0
BOTH = "an exercise and its tempo, such as --exercise '1/16: >RLRR >LRLL' --tempo 1/4=60"
_RANGE = re.compile(r"(tap|half|full)\s*=\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class StrokeOptions:
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
    options: StrokeOptions
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


def plan_exercise(asked: TakeRequest, options: StrokeOptions | None = None) -> PlannedExercise:
    """Plan the strokes of an exercise at its tempo."""
    if asked.exercise is None or asked.tempo is None:
        raise WrongOptions(got="no exercise", must_be=BOTH)
    exercise, tempo, options = asked.exercise, asked.tempo, options or StrokeOptions()
    steps = steps_of(exercise)
    plan = plan_strokes(
        exercise,
        stroke=options.stroke,
        heights=options.heights,
        tempo=tempo,
        restitution=options.restitution,
    )
    return PlannedExercise(
        exercise=exercise,
        exercise_text=asked.exercise_text or "",
        tempo=tempo,
        options=options,
        steps=steps,
        plan=plan,
        limits=limits_of(steps, tempo, options.heights, options.restitution),
        doubles=doubles_of(steps, plan.strokes, tempo, options.restitution),
    )


def read_asked(exercise: str | None, tempo: str | None) -> TakeRequest:
    """Read what is to be planned; there is nothing to plan without both."""
    given = [name for name, text in (("exercise", exercise), ("tempo", tempo)) if (text or "").strip()]
    if len(given) < 2:
        raise WrongOptions(got=f"only the {given[0]}" if given else "no exercise", must_be=BOTH)
    return TakeRequest.read(exercise, tempo)


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


STROKE_DIGITS: Mapping[str, int] = {"cm": 3, "s": 6, "bpm": 2, "restitution": 15}


def strokes_json(planned: PlannedExercise) -> str:
    """Write a stroke plan as JSON text, ending in a line break."""
    return json_of(as_json(planned))


def as_json(planned: PlannedExercise) -> Json:
    """Turn a stroke plan into plain dicts, lists and numbers."""
    document = plain(
        {
            "exercise": planned.exercise_text,
            "tempo": str(planned.tempo),
            "stroke": planned.options.stroke,
            "unit": planned.options.unit,
            "restitution": planned.options.restitution,
            "heights": planned.options.heights,
            "strokes": [_stroke(timed) for timed in planned.timed()],
            "hands": {limits.hand: _hand(limits) for limits in planned.limits},
            "doubles": {doubles.hand: doubles for doubles in planned.doubles},
            "remarks": [_remark(remark, planned) for remark in planned.plan.remarks],
        },
        STROKE_DIGITS,
    )
    for hand in document["hands"].values():
        hand["free_up_to_bpm"] = _finite(hand["free_up_to_bpm"])
    return {**document, "doubles": {hand: _finite(each) for hand, each in document["doubles"].items()}}


def _finite(figures: Json) -> Json:
    """Write null for a tempo that no tempo is too fast for."""
    return {key: None if value == math.inf else value for key, value in figures.items()}


def _stroke(timed: TimedStroke) -> Json:
    stroke = timed.stroke
    return {
        "position": stroke.position,
        "hand": stroke.hand,
        "grace": stroke.grace,
        "stroke": stroke.motion,
        "before_cm": stroke.before_cm,
        "after_cm": stroke.after_cm,
        "own_interval_s": timed.interval_s,
        "greatest_free_rebound_cm": timed.free_cm,
        "needs": timed.need,
        "bounce": stroke.bounce,
    }


def _hand(limits: HandLimits) -> Json:
    reach = limits.shortest
    return {
        "blows": limits.blows,
        "shortest_own_interval_s": reach and reach.interval_s,
        "greatest_free_rebound_cm": reach and reach.free_cm,
        "greatest_thrown_rebound_cm": reach and reach.thrown_cm,
        "highest_rise_cm": reach and reach.rise_cm,
        "free_up_to_bpm": limits.free_up_to_bpm,
    }


def _remark(remark: StrokeRemark, planned: PlannedExercise) -> Json:
    return {
        "kind": remark.kind,
        "text": stroke_remark_words(remark, planned.options.unit, planned.tempo.beat),
        "positions": list(remark.positions),
        "hands": list(remark.hands),
    }


LONGEST_S, SHORTEST_S = 0.55, 0.11  # intervals of one hand between which the drawing lies: 15 in to 0.6 in
POINTS = 90
BESIDE = 1e-6  # just before and just after doubles turn, as a share


def height_chart(planned: PlannedExercise) -> HeightChart:
    """Work out the lines of the chart."""
    low, high = _range(planned)
    curves = {hand: _curve(planned, hand, low, high) for hand in HANDS}
    drawn = [curve for curve in curves.values() if curve is not None]
    if len(drawn) == 2 and (drawn[0].free, drawn[0].stops) == (drawn[1].free, drawn[1].stops):
        drawn = [HeightCurve(None, drawn[0].free, drawn[0].rise, drawn[0].stops)]
    return HeightChart(
        exercise_text=planned.exercise_text,
        beat=f"{planned.tempo.beat.numerator}/{planned.tempo.beat.denominator}",
        tempo_bpm=planned.tempo.bpm,
        from_bpm=low,
        to_bpm=high,
        unit=planned.options.unit,
        curves=tuple(drawn),
        heights=planned.options.heights,
        turn=_turn(planned),
    )


def _ways(planned: PlannedExercise, hand: Hand) -> list[Step]:
    return [step for step in planned.steps if step.blow.hand == hand and is_way(step)]


def _range(planned: PlannedExercise) -> tuple[float, float]:
    """Choose tempi between which the heights of all classes lie."""
    beat, bpm = planned.tempo.beat, planned.tempo.bpm
    ways = [way for hand in HANDS for way in _ways(planned, hand)]
    slowest, fastest = (
        min((way.bpm_at(seconds, beat) for way in ways), default=bpm) for seconds in (LONGEST_S, SHORTEST_S)
    )
    turn = _turn(planned)
    low = math.floor(min(slowest, 0.9 * bpm))
    return low, max(math.ceil(max(fastest, 1.05 * bpm, turn[1] * 1.5 if turn else 0.0)), low + 1)


def _turn(planned: PlannedExercise) -> tuple[float, float] | None:
    """Return where the first doubles turn."""
    first = min(planned.doubles, key=lambda doubles: doubles.turned_at_bpm, default=None)
    return None if first is None else (first.turns_from_bpm, first.turned_at_bpm)


def _curve(planned: PlannedExercise, hand: Hand, low: float, high: float) -> HeightCurve | None:
    """Follow one hand over the tempi."""
    if not _ways(planned, hand):
        return None
    tempi = {low + (high - low) * i / POINTS for i in range(POINTS + 1)}
    turns = {doubles.turned_at_bpm for doubles in planned.doubles}
    tempi |= {bpm * (1 + side) for bpm in turns for side in (-BESIDE, BESIDE) if low < bpm < high}
    shortest = [(bpm, _shortest_s(planned, hand, bpm)) for bpm in sorted(tempi)]
    free, rise = (
        _parts([(bpm, height(s)) for bpm, s in shortest if s is not None])
        for height in (free_height_cm, rise_height_cm)
    )
    heights = planned.options.heights
    stops = [
        (name, bpm, heights.of(name).aim_cm)
        for name in reversed(STROKE_CLASSES)
        for bpm in _crossings(free, heights.of(name).aim_cm)
    ]
    return HeightCurve(hand, free, rise, tuple(stops))


def _shortest_s(planned: PlannedExercise, hand: Hand, bpm: float) -> float | None:
    """Return a hand's shortest way at a tempo, those between a throw and its bounce left out."""
    whole_s = whole_note_s(bpm, planned.tempo.beat)
    graces = {index for index, step in enumerate(planned.steps) if step.blow.grace is not None}
    seconds = [step.seconds(whole_s) for step in planned.steps]
    pairs = bounces_of(planned.steps, planned.plan.strokes, seconds)
    throws = {throw for throw, second in pairs if not {throw, second} & graces}
    return min(
        (
            seconds[index]
            for index, step in enumerate(planned.steps)
            if step.blow.hand == hand and is_way(step) and index not in throws
        ),
        default=None,
    )


def _parts(points: list[Point]) -> tuple[tuple[Point, ...], ...]:
    """Break a line where it jumps up: there doubles have become a throw and its bounce."""
    parts: list[list[Point]] = [points[:1]]
    for before, after in pairwise(points):
        if after[1] > before[1]:
            parts.append([])
        parts[-1].append(after)
    return tuple(tuple(part) for part in parts)


def _crossings(parts: tuple[tuple[Point, ...], ...], height_cm: float) -> list[float]:
    """Return the tempi at which a line falls through a height; 1 / sqrt(h) is straight over tempo."""
    return [
        a[0] + (b[0] - a[0]) * (height_cm**-0.5 - a[1] ** -0.5) / (b[1] ** -0.5 - a[1] ** -0.5)
        for part in parts
        for a, b in pairwise(part)
        if a[1] >= height_cm > b[1] > 0
    ]
