r"""Two small pictures: the line of level over height, and the heights of a take's hits.

Conventions: px of the drawing's own units, y downwards; levels in dB; heights in cm, their axis logarithmic
in the first picture. A right hand's stick leans ``/``, a left one's ``\\``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import CM_PER_INCH, STROKE_CLASSES, StrokeHeights, Unit
from evenhand.progress.heights import HandScale, HeightCalibration, SaidHeights, SaidStroke, ScaleOf
from evenhand.report.plots.marks import HAND_CLASS
from evenhand.report.plots.markup import Axis, Frame, axis_over, box, el, px, text_at
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.figures import plain
from evenhand.report.words.tests import PLURALS, calibration_words, said_words

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 560.0, 300.0, 52.0, 24.0, 28.0, 38.0
ROW_WIDTH, ROW, ROW_TOP, MOST_ROWS = 760.0, 120.0, 26.0, 12
SECONDS_A_ROW = 8.0
TALLEST_CM = 40.0
LEANS: Mapping[Hand | None, float] = {"R": 0.18, "L": -0.18, None: 0.0}
HANDS: Mapping[ScaleOf, Hand | None] = {"R": "R", "L": "L", "both": None}
APART_PX: Mapping[ScaleOf, float] = {"R": 3.0, "L": -3.0, "both": 0.0}


def calibration_drawing(calibration: HeightCalibration, unit: Unit = "in") -> str:
    """Draw the fit, as an SVG file."""
    single: list[ScaleOf] = [of for of in calibration.scales if of != "both"]
    scales = {of: calibration.scales[of] for of in single or calibration.scales}
    frame = _frame(calibration.heights, scales)
    inside = [*_classes(frame, calibration.heights, unit), *frame.levels()]
    inside.append(text_at(8, TOP - 12, "level, dB", class_="f s"))
    for of, scale in scales.items():
        inside += _fit(frame, of, scale, calibration.heights)
    return picture_file(
        "scale", inside, WIDTH, HEIGHT, title="Level over height", words=calibration_words(calibration)
    )


def _frame(heights: StrokeHeights, scales: Mapping[ScaleOf, HandScale]) -> Frame:
    """Choose the axes: heights on a logarithmic scale, and every level that is drawn."""
    levels = [
        level.mean_db + far * scale.spread_db
        for scale in scales.values()
        for level in scale.classes.values()
        for far in (-2, 2)
    ]
    levels += [_level(scale, cm) for scale in scales.values() for cm in _ends(heights)]
    across = Axis(heights.tap.low_cm * 0.8, heights.full.high_cm * 1.2, on_log=True)
    return Frame(LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, across, axis_over(levels, least_range=10.0))


def _ends(heights: StrokeHeights) -> tuple[float, float]:
    return heights.tap.low_cm, heights.full.high_cm


def _level(scale: HandScale, height_cm: float) -> float:
    """Read the line."""
    return scale.at_10_cm_db + (scale.slope_db_per_decade.value or 0.0) * math.log10(height_cm / 10)


def _classes(frame: Frame, heights: StrokeHeights, unit: Unit) -> Iterator[str]:
    """Draw each class's range of heights, with its name and the height it is played from."""
    for stroke in STROKE_CLASSES:
        each = heights.of(stroke)
        low, high, aim = map(frame.x, (each.low_cm, each.high_cm, each.aim_cm))
        written = f"{each.aim_cm / CM_PER_INCH:.3g} in" if unit == "in" else f"{plain(each.aim_cm, 0)} cm"
        yield el("path", class_="band", d=box(low, frame.top, high, frame.bottom))
        yield text_at(aim, frame.bottom + 16, PLURALS[stroke], class_="f")
        yield text_at(aim, frame.bottom + 30, written, class_="n m")


def _fit(frame: Frame, of: ScaleOf, scale: HandScale, heights: StrokeHeights) -> Iterator[str]:
    """Draw one hand's line, its three means and how its hits spread."""
    ink = HAND_CLASS[HANDS[of]]
    yield el("path", class_=f"line {ink}", d=frame.line((cm, _level(scale, cm)) for cm in _ends(heights)))
    for stroke in STROKE_CLASSES:
        x, mean = frame.x(heights.of(stroke).aim_cm) + APART_PX[of], scale.classes[stroke].mean_db
        low, high = (frame.y(mean + far * scale.spread_db) for far in (-1, 1))
        yield el("path", class_=f"whisker {ink}", d=f"M{px(x)} {px(low)}V{px(high)}")
        yield el("path", class_=f"at {ink}", d=f"M{px(x - 4)} {px(frame.y(mean))}h8")


def said_drawing(said: SaidHeights, heights: StrokeHeights) -> str:
    """Draw each hit of a take as a stick as tall as it was high, as an SVG file."""
    start = said.strokes[0].time_s if said.strokes else 0.0
    seconds = (said.strokes[-1].time_s - start) if said.strokes else 0.0
    a_row = max(SECONDS_A_ROW, math.ceil(seconds / MOST_ROWS))
    count = int(seconds // a_row) + 1
    inside: list[str] = []
    for row in range(count):
        first_s = start + row * a_row
        steps = [first_s + k for k in range(0, int(a_row) + 1, max(1, round(a_row / 8)))]
        foot, times = ROW_TOP + ROW * (row + 1) - 26, Axis(first_s, first_s + a_row, steps)
        frame = Frame(LEFT, ROW_WIDTH - RIGHT, foot - ROW + 34, foot, times, Axis(0.0, TALLEST_CM))
        own = [each for each in said.strokes if (each.time_s - start) // a_row == row]
        inside += _row(own, frame, heights)
    return picture_file(
        "strokes", inside, ROW_WIDTH, ROW_TOP + ROW * count, title="Heights", words=said_words(said)
    )


def _row(strokes: Sequence[SaidStroke], frame: Frame, heights: StrokeHeights) -> Iterator[str]:
    """Draw one row: the classes' bands, and the sticks."""
    for stroke in STROKE_CLASSES:
        each = heights.of(stroke)
        middle = (frame.y(each.high_cm) + frame.y(each.low_cm)) / 2
        yield frame.band(each.low_cm, each.high_cm)
        yield text_at(LEFT - 8, middle + 3.5, PLURALS[stroke], class_="n")
    yield el("path", class_="grid", d=frame.level(0.0))
    for hand, lean in LEANS.items():
        sticks = [
            (frame.x(said.time_s), frame.bottom - frame.y(said.height_cm))
            for said in strokes
            if said.hand == hand
        ]
        path = "".join(f"M{px(x)} {px(frame.bottom)}l{px(lean * tall)} {px(-tall)}" for x, tall in sticks)
        if path:
            yield el("path", class_=f"at {HAND_CLASS[hand]}", d=path)
    yield from frame.places(lambda time_s: f"{plain(time_s, 0)} s", below_px=15.0)
