"""Draw stick height against tempo for a planned exercise.

Conventions: heights cm; tempi in beats a minute of the tempo's own beat.
"""

from __future__ import annotations

import math
from itertools import pairwise

from evenhand.application.plan_strokes import PlannedExercise
from evenhand.craft.blows import Step
from evenhand.craft.doubles import bounces_of
from evenhand.craft.free_heights import HANDS, is_way
from evenhand.craft.rebound import free_height_cm, rise_height_cm
from evenhand.domain.exercise import Hand
from evenhand.domain.stroke import STROKE_CLASSES
from evenhand.pages.height_chart import ClassBand, HeightChart, HeightCurve, Point, draw_heights

LONGEST_S, SHORTEST_S = 0.55, 0.11  # intervals of one hand between which the drawing lies: 15 in to 0.6 in
POINTS = 90
BESIDE = 1e-6  # just before and just after doubles turn, as a share


def heights_svg(planned: PlannedExercise) -> str:
    """Draw the chart, a complete SVG file ending in a line break."""
    return draw_heights(height_chart(planned)) + "\n"


def height_chart(planned: PlannedExercise) -> HeightChart:
    """Work out the lines of the chart."""
    low, high = _range(planned)
    curves = {hand: _curve(planned, hand, low, high) for hand in HANDS}
    drawn = [curve for curve in curves.values() if curve is not None]
    if len(drawn) == 2 and (drawn[0].free, drawn[0].stops) == (drawn[1].free, drawn[1].stops):
        drawn = [HeightCurve(None, drawn[0].free, drawn[0].rise, drawn[0].stops)]
    heights = planned.wishes.heights
    ranges = [(each, heights.of(each)) for each in STROKE_CLASSES]
    return HeightChart(
        exercise_text=planned.exercise_text,
        beat=f"{planned.tempo.beat.numerator}/{planned.tempo.beat.denominator}",
        tempo_bpm=planned.tempo.bpm,
        from_bpm=low,
        to_bpm=high,
        unit=planned.wishes.unit,
        curves=tuple(drawn),
        bands=tuple(ClassBand(name, r.low_cm, r.high_cm, r.aim_cm) for name, r in ranges),
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
    heights = planned.wishes.heights
    stops = [
        (name, bpm, heights.of(name).aim_cm)
        for name in reversed(STROKE_CLASSES)
        for bpm in _crossings(free, heights.of(name).aim_cm)
    ]
    return HeightCurve(hand, free, rise, tuple(stops))


def _shortest_s(planned: PlannedExercise, hand: Hand, bpm: float) -> float | None:
    """Return a hand's shortest way at a tempo, those between a throw and its bounce left out."""
    whole_note_s = 60.0 / bpm / float(planned.tempo.beat)
    graces = {index for index, step in enumerate(planned.steps) if step.blow.grace is not None}
    seconds = [step.seconds(whole_note_s) for step in planned.steps]
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
