"""A chart of stick height against tempo: what a free rebound allows each hand in an exercise.

Conventions: px of the drawing's own units, y downwards; tempo in beats a minute along x, height of the tip
along y, kept in cm and written in inches or centimetres. The right hand's line is solid, the left's dashed,
one line in ink where both are the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import (
    CM_PER_INCH,
    STROKE_CLASSES,
    HeightRange,
    StrokeClass,
    StrokeHeights,
    Unit,
)
from evenhand.report.plots.marks import HAND_CLASS, dot_path
from evenhand.report.plots.markup import (
    Axis,
    Frame,
    Point,
    box,
    el,
    in_rows,
    px,
    room_px,
    steps_within,
    text_at,
)
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.figures import hand_words, listed

WIDTH, HEIGHT = 720.0, 416.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 96.0, 60.0, 50.0
TOP_CM = 36.0  # of the axis: a little over the highest stroke
WORDS_PX = 190.0  # room that the words over the drawing take
CLOSE_PX = 140.0  # marks of two hands closer than this have their words over and under the line
TEMPO_STEPS = (1, 2, 5, 10, 20, 25, 50, 100, 200)


@dataclass(frozen=True, slots=True)
class HeightCurve:
    """One hand's line (both hands' where ``hand`` is None).

    ``free`` holds the greatest free height in unbroken parts (a line breaks where doubles become a throw and
    its bounce), ``rise`` the height above which no free rise goes; ``stops`` where a class stops being free.
    """

    hand: Hand | None
    free: tuple[tuple[Point, ...], ...]
    rise: tuple[tuple[Point, ...], ...]
    stops: tuple[tuple[str, float, float], ...]  # class, beats a minute, cm


@dataclass(frozen=True, slots=True)
class HeightChart:
    """All that is drawn. ``turn`` is from where to where doubles become a throw and its bounce."""

    exercise_text: str
    beat: str
    tempo_bpm: float
    from_bpm: float
    to_bpm: float
    unit: Unit
    curves: tuple[HeightCurve, ...]
    heights: StrokeHeights
    turn: tuple[float, float] | None = None

    @property
    def frame(self) -> Frame:
        """Where tempos and heights are drawn; what lies higher than the drawing stands at its top."""
        step_cm = 2 * CM_PER_INCH if self.unit == "in" else 5.0
        tempos = steps_within(self.from_bpm, self.to_bpm, TEMPO_STEPS, 9)
        heights = Axis(0.0, TOP_CM, steps_within(0.0, TOP_CM, (step_cm,), TOP_CM))
        return Frame(
            LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, Axis(self.from_bpm, self.to_bpm, tempos), heights
        )


def draw_heights(chart: HeightChart) -> str:
    """Draw the chart as an SVG file, with its words for a screen reader."""
    frame = chart.frame
    inside = [
        *_turn(chart, frame),
        *(part for stroke in STROKE_CLASSES for part in _band(stroke, chart, frame)),
        *_axes(chart, frame),
        *_now(chart, frame),
        *(part for curve in chart.curves for part in _curve(curve, frame)),
        *_stops(chart, frame),
        *_names(chart),
    ]
    return picture_file(
        "heights",
        inside,
        WIDTH,
        HEIGHT,
        title=f"Stick height against tempo: {chart.exercise_text}",
        words=chart_words(chart),
    )


def _turn(chart: HeightChart, frame: Frame) -> Iterator[str]:
    """Shade where doubles turn, and say what they are to either side."""
    if chart.turn is None:
        return
    a, b = map(frame.x, chart.turn)
    yield el("path", class_="turn", d=box(a, TOP, b, frame.bottom))
    if a - LEFT > WORDS_PX:
        yield text_at(a - 6, TOP - 8, "doubles: two wrist strokes", class_="n")
    if WIDTH - b > WORDS_PX:
        yield text_at(b + 6, TOP - 8, "doubles: a throw and its bounce")


def _band(stroke: StrokeClass, chart: HeightChart, frame: Frame) -> Iterator[str]:
    """Draw from where to where a class of stroke starts, and the height aimed at."""
    each = chart.heights.of(stroke)
    y = frame.y(each.aim_cm)
    yield frame.band(each.low_cm, each.high_cm)
    yield el("path", class_="aim", d=frame.level(each.aim_cm))
    yield text_at(WIDTH - RIGHT + 8, y - 2, stroke, class_="ink")
    yield text_at(WIDTH - RIGHT + 8, y + 12, f"{_span(each, chart.unit)} {chart.unit}")


def _span(each: HeightRange, unit: Unit) -> str:
    return f"{_figure(each.low_cm, unit)} to {_figure(each.high_cm, unit)}"


def _figure(height_cm: float, unit: Unit) -> str:
    """Write a height without its unit, to a tenth where it isn't whole."""
    value = height_cm / (CM_PER_INCH if unit == "in" else 1.0)
    return f"{value:.1f}".removesuffix(".0")


def _axes(chart: HeightChart, frame: Frame) -> Iterator[str]:
    ticks = "".join(f"M{px(LEFT - 5)} {px(frame.y(each))}h5" for each in frame.up.steps)
    yield el("path", class_="grid", d=f"M{px(LEFT)} {px(TOP)}V{px(frame.bottom)}H{px(frame.right)}{ticks}")
    for each in frame.up.steps:
        yield text_at(LEFT - 9, frame.y(each) + 4, _figure(each, chart.unit), class_="n")
    yield text_at(LEFT - 9, TOP - 8, chart.unit, class_="n")
    yield from frame.places(lambda bpm: f"{bpm:g}", below_px=18.0)
    yield text_at(WIDTH - 10, frame.bottom + 36, f"{chart.beat} a minute", class_="n")


def _now(chart: HeightChart, frame: Frame) -> Iterator[str]:
    """Mark the tempo that was asked for."""
    if chart.from_bpm <= chart.tempo_bpm <= chart.to_bpm:
        yield el("path", class_="now", d=frame.upright(chart.tempo_bpm))
        words = f"{chart.beat} = {chart.tempo_bpm:g}"
        yield text_at(frame.x(chart.tempo_bpm), frame.bottom + 36, words, class_="m ink")


def _curve(curve: HeightCurve, frame: Frame) -> Iterator[str]:
    for kind, parts in (("rise", curve.rise), ("free", curve.free)):
        lines = "".join(frame.line(_inside(part)) for part in parts)
        if lines:
            yield el("path", class_=f"{kind} {HAND_CLASS[curve.hand]}", d=lines)


def _inside(part: Sequence[Point]) -> list[Point]:
    """Leave out what lies above the drawing, but for the point where the line comes in."""
    out = [point for point in part if point[1] <= TOP_CM]
    for before, after in pairwise(part):
        if before[1] > TOP_CM >= after[1]:
            share = (before[1] - TOP_CM) / (before[1] - after[1])
            out.insert(0, (before[0] + share * (after[0] - before[0]), TOP_CM))
    return out if len(out) > 1 else []


def _stops(chart: HeightChart, frame: Frame) -> Iterator[str]:
    """Mark where a class stops being free: a dot on the line, and its tempo below."""
    for curve in chart.curves:
        hand = HAND_CLASS[curve.hand]
        whose = "" if curve.hand is None or len(chart.curves) == 1 else f"{curve.hand}: "
        for name, bpm, cm in curve.stops:
            x, y = frame.x(bpm), frame.y(cm)
            words_y = y + 16 if _is_slower_of_two(chart, curve, name, x) else y - 5
            words = f"{whose}{name} free up to {_whole(bpm)}"
            yield el("path", class_="drop", d=f"M{px(x)} {px(y)}V{px(frame.bottom)}")
            yield el("path", class_=f"end {hand}", d=dot_path(x, y))
            yield text_at(x + 8, words_y, words, class_=f"over hand {hand}")


def _is_slower_of_two(chart: HeightChart, curve: HeightCurve, name: str, x: float) -> bool:
    """Tell whether the other hand's mark for the same class stands close by on the right."""
    return any(
        other is not curve and each == name and 0 <= chart.frame.x(faster) - x < CLOSE_PX
        for other in chart.curves
        for each, faster, _ in other.stops
    )


def _names(chart: HeightChart) -> Iterator[str]:
    """Name the lines, in a row over the drawing."""
    if not chart.curves:
        yield text_at(LEFT, 16, "only buzz strokes: nothing rises by itself")
        return
    keys = [("free", HAND_CLASS[curve.hand], _name(curve)) for curve in chart.curves]
    keys.append(("rise", keys[0][1], "thrown hard, the most it rises"))
    head = "rises and falls by itself:"
    widths = [room_px(head, 12.0), *(32 + room_px(words, 12.0) for _, _, words in keys)]
    (_, *places) = in_rows(widths, WIDTH - LEFT, 14.0)
    yield text_at(LEFT, 16, head)
    for (kind, hand, words), (right, row) in zip(keys, places, strict=True):
        x, y = LEFT + right, 16.0 + row * 17
        yield el("path", class_=f"{kind} {hand}", d=f"M{px(x)} {px(y - 4)}h26")
        yield text_at(x + 32, y, words)


def _name(curve: HeightCurve) -> str:
    """Name a line, and say so where all of it lies over the drawing."""
    drawn = any(_inside(part) for part in curve.free)
    name = hand_words(curve.hand, "both hands")
    return name if drawn else f"{name} (higher than drawn)"


def _whole(bpm: float) -> int:
    """Round a tempo down to whole beats, one that is whole but for its last bits left alone."""
    return math.floor(bpm + 1e-6)


def chart_words(chart: HeightChart) -> str:
    """Say the chart in words."""
    said = [_curve_words(chart, curve) for curve in chart.curves]
    if not said:
        said.append("Only buzz strokes: nothing rises by itself.")
    if chart.turn is not None:
        said.append(
            f"Doubles turn from two wrist strokes into a throw and its bounce between {chart.beat} = "
            f"{_whole(chart.turn[0])} and {_whole(chart.turn[1])}."
        )
    bands = [f"{each} {_span(chart.heights.of(each), chart.unit)}" for each in STROKE_CLASSES]
    said.append(f"Bands, in {chart.unit}: {listed(bands)}.")
    return " ".join(said)


def _curve_words(chart: HeightChart, curve: HeightCurve) -> str:
    hand = hand_words(curve.hand, "both hands").capitalize()
    stops = [f"{name} strokes up to {chart.beat} = {_whole(bpm)}" for name, bpm, _ in curve.stops]
    if not stops:
        return f"{hand}: no class of stroke stops being free between these tempos."
    return f"{hand}, rising and falling without force: {listed(stops)}."
