r"""Two small pictures: the line of level over height, and the heights of a take's hits.

Conventions: px of the drawing's own units, y downwards; levels in dB; heights in cm, their axis logarithmic
in the first picture. A right hand's stick leans ``/``, a left one's ``\\``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from evenhand.music.strokes.heights import CM_PER_INCH, STROKE_CLASSES, StrokeHeights, Unit
from evenhand.progress.heights import HandScale, HeightCalibration, SaidHeights, SaidStroke, ScaleOf
from evenhand.report.plots.charts import axis_over
from evenhand.report.plots.markup import el, picture, px, text_at
from evenhand.report.plots.shell import alone
from evenhand.report.words.figures import plain
from evenhand.report.words.tests import PLURALS, calibration_words, said_words

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 560.0, 300.0, 52.0, 24.0, 28.0, 38.0
ROW_WIDTH, ROW, ROW_TOP, MOST_ROWS = 760.0, 120.0, 26.0, 12
SECONDS_A_ROW = 8.0
TALLEST_CM = 40.0
INKS = {"R": "r", "L": "l", "both": "both"}
SLANT = 0.18


class _Plane:
    """Where a height and a level are drawn."""

    def __init__(self, calibration: HeightCalibration, scales: Mapping[ScaleOf, HandScale]) -> None:
        levels = [
            level.mean_db + far * scale.spread_db
            for scale in scales.values()
            for level in scale.classes.values()
            for far in (-2, 2)
        ]
        self.axis = axis_over(levels, least_range=10.0)
        self.low = math.log10(calibration.heights.tap.low_cm * 0.8)
        self.high = math.log10(calibration.heights.full.high_cm * 1.2)

    def x(self, height_cm: float) -> float:
        """Return where a height is drawn."""
        return LEFT + (math.log10(height_cm) - self.low) / (self.high - self.low) * (WIDTH - LEFT - RIGHT)

    def y(self, level_db: float) -> float:
        """Return where a level is drawn."""
        share = (level_db - self.axis.low) / (self.axis.high - self.axis.low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def calibration_drawing(calibration: HeightCalibration, unit: Unit = "in") -> str:
    """Draw the fit, as an SVG file."""
    single: list[ScaleOf] = [of for of in calibration.scales if of != "both"]
    scales = {of: calibration.scales[of] for of in single or calibration.scales}
    plane = _Plane(calibration, scales)
    inside = [*_bands(plane, calibration.heights, unit), *_levels_axis(plane)]
    for of, scale in scales.items():
        inside += _fit(plane, of, scale, calibration.heights)
    words = calibration_words(calibration)
    return alone(
        picture(
            inside,
            width=WIDTH,
            height=HEIGHT,
            key="scale",
            title="Level over height",
            words=words,
            class_="chart",
        )
    )


def _bands(plane: _Plane, heights: StrokeHeights, unit: Unit) -> list[str]:
    """Draw each class's range of heights, with its name."""
    out = []
    for stroke in STROKE_CLASSES:
        each = heights.of(stroke)
        left, right, middle = px(plane.x(each.low_cm)), px(plane.x(each.high_cm)), plane.x(each.aim_cm)
        box = f"M{left} {px(TOP)}H{right}V{px(HEIGHT - BOTTOM)}H{left}z"
        out.append(el("path", class_="band", d=box))
        out.append(text_at(middle, HEIGHT - BOTTOM + 16, PLURALS[stroke], class_="f"))
        out.append(text_at(middle, HEIGHT - BOTTOM + 30, _aim(each.aim_cm, unit), class_="n m"))
    return out


def _aim(height_cm: float, unit: Unit) -> str:
    """Write the height a class is played from."""
    return f"{height_cm / CM_PER_INCH:.3g} in" if unit == "in" else f"{plain(height_cm, 0)} cm"


def _levels_axis(plane: _Plane) -> list[str]:
    """Draw the scale of levels."""
    steps = plane.axis.steps
    rules = "".join(f"M{px(LEFT)} {px(plane.y(step))}H{px(WIDTH - RIGHT)}" for step in steps)
    labels = [text_at(LEFT - 8, plane.y(s) + 3.5, plain(s, plane.axis.decimals), class_="n") for s in steps]
    return [el("path", class_="grid", d=rules), *labels, text_at(8, TOP - 12, "level, dB", class_="f s")]


def _fit(plane: _Plane, of: ScaleOf, scale: HandScale, heights: StrokeHeights) -> list[str]:
    """Draw one hand's line, its three means and how its hits spread."""
    ends = (heights.tap.low_cm, heights.full.high_cm)
    line = "M" + "L".join(f"{px(plane.x(cm))} {px(plane.y(_level(scale, cm)))}" for cm in ends)
    out = [el("path", class_=f"line {INKS[of]}", d=line)]
    shift = {"R": 3.0, "L": -3.0}.get(of, 0.0)
    for stroke in STROKE_CLASSES:
        at, mean = plane.x(heights.of(stroke).aim_cm) + shift, scale.classes[stroke].mean_db
        whisker = f"M{px(at)} {px(plane.y(mean - scale.spread_db))}V{px(plane.y(mean + scale.spread_db))}"
        out.append(el("path", class_=f"whisker {INKS[of]}", d=whisker))
        out.append(el("path", class_=f"at {INKS[of]}", d=f"M{px(at - 4)} {px(plane.y(mean))}h8"))
    return out


def _level(scale: HandScale, height_cm: float) -> float:
    """Read the line."""
    return scale.at_10_cm_db + (scale.slope_db_per_decade.value or 0.0) * math.log10(height_cm / 10)


def said_drawing(said: SaidHeights, heights: StrokeHeights) -> str:
    """Draw each hit of a take as a stick as tall as it was high, as an SVG file."""
    start = said.strokes[0].time_s if said.strokes else 0.0
    seconds = (said.strokes[-1].time_s - start) if said.strokes else 0.0
    a_row = max(SECONDS_A_ROW, math.ceil(seconds / MOST_ROWS))
    count = int(seconds // a_row) + 1
    inside: list[str] = []
    for row in range(count):
        own = [s for s in said.strokes if row * a_row <= s.time_s - start < (row + 1) * a_row]
        inside += _row(own, start + row * a_row, a_row, ROW_TOP + ROW * (row + 1) - 26, heights)
    words = said_words(said)
    return alone(
        picture(
            inside,
            width=ROW_WIDTH,
            height=ROW_TOP + ROW * count,
            key="heights",
            title="Heights",
            words=words,
            class_="chart",
        )
    )


def _row(
    strokes: list[SaidStroke], start_s: float, seconds: float, y: float, heights: StrokeHeights
) -> list[str]:
    """Draw one row: the classes' bands, and the sticks."""
    per_cm, per_s = (ROW - 34) / TALLEST_CM, (ROW_WIDTH - LEFT - RIGHT) / seconds
    out = []
    for stroke in STROKE_CLASSES:
        each = heights.of(stroke)
        top, bottom = y - min(each.high_cm, TALLEST_CM) * per_cm, y - each.low_cm * per_cm
        out.append(
            el(
                "path",
                class_="band",
                d=f"M{px(LEFT)} {px(top)}H{px(ROW_WIDTH - RIGHT)}V{px(bottom)}H{px(LEFT)}z",
            )
        )
        out.append(text_at(LEFT - 8, (top + bottom) / 2 + 3.5, PLURALS[stroke], class_="n"))
    out.append(el("path", class_="grid", d=f"M{px(LEFT)} {px(y)}H{px(ROW_WIDTH - RIGHT)}"))
    for hand, ink, lean in (("R", "r", 1.0), ("L", "l", -1.0), (None, "both", 0.0)):
        paths = []
        for said in (s for s in strokes if s.hand == hand):
            tall = min(said.height_cm, TALLEST_CM) * per_cm
            x = LEFT + (said.time_s - start_s) * per_s
            paths.append(f"M{px(x)} {px(y)}l{px(lean * SLANT * tall)} {px(-tall)}")
        if paths:
            out.append(el("path", class_=f"at {ink}", d="".join(paths)))
    step = max(1, round(seconds / 8))
    out += [
        text_at(LEFT + k * per_s, y + 15, f"{plain(start_s + k, 0)} s", class_="n m")
        for k in range(0, int(seconds) + 1, step)
    ]
    return out
