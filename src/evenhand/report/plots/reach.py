"""A chart of stick height against tempo: what a free rebound allows each hand in an exercise.

Conventions: px of the drawing's own units, y downwards; tempo in beats a minute along x, height of the tip
along y, kept in cm and written in inches or centimetres. The right hand's line is solid, the left's dashed,
one line in ink where both are the same. The drawing brings its own style, so that it stands alone in light,
in the dark and on paper; on a page that sets the house's inks it takes those.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import CM_PER_INCH, Unit
from evenhand.report.plots.marks import HAND_CLASS
from evenhand.report.plots.markup import el, in_rows, picture, px, room_px, text_at
from evenhand.report.plots.shell import DARK, FAMILY, LIGHT
from evenhand.report.words.figures import listed

WIDTH, HEIGHT = 720.0, 416.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 96.0, 60.0, 50.0
TOP_CM = 36.0  # of the axis: a little over the highest stroke
WORDS_PX = 190.0  # room that the words over the drawing take
CLOSE_PX = 140.0  # marks of two hands closer than this have their words over and under the line
TEMPO_STEPS = (1, 2, 5, 10, 20, 25, 50, 100, 200)
HAND_WORDS: dict[Hand | None, str] = {"R": "right hand", "L": "left hand", None: "both hands"}

CHART_STYLE = (
    f".heights{{font-family:{FAMILY}}}"
    """
.heights text{font-size:12px;fill:var(--quiet);font-variant-numeric:lining-nums tabular-nums}
.heights .e{text-anchor:end}.heights .m{text-anchor:middle}
.heights .over{paint-order:stroke;stroke:var(--paper);stroke-width:4px;stroke-linejoin:round}
.heights .ink{fill:var(--ink)}
.heights .hand.r{fill:var(--right)}.heights .hand.l{fill:var(--left)}.heights .hand.both{fill:var(--ink)}
.heights path{fill:none;stroke-linecap:round;stroke-linejoin:round}
.heights path.band{fill:var(--band);stroke:none}
.heights .aim{stroke:var(--zero);stroke-width:1}
.heights .grid{stroke:var(--rule);stroke-width:.8}
.heights .free{stroke-width:2.2}.heights .rise{stroke-width:1.2;stroke-dasharray:.1 4}
.heights .r{stroke:var(--right)}.heights .l{stroke:var(--left)}.heights .both{stroke:var(--ink)}
.heights .free.l{stroke-dasharray:7 4}
.heights text.r,.heights text.l,.heights text.both{stroke:none}
.heights text.over.r,.heights text.over.l,.heights text.over.both{stroke:var(--paper)}
.heights .drop{stroke:var(--quiet);stroke-width:.9;stroke-dasharray:2 3}
.heights .end{stroke-width:6}
.heights .turn{fill:var(--band);opacity:.55}
.heights .now{stroke:var(--ink);stroke-width:.7;stroke-dasharray:.1 5}
"""
)
ALONE = f"""
.heights{{color-scheme:light dark;{LIGHT}}}
@media screen and (prefers-color-scheme:dark){{.heights{{{DARK}}}}}
@media print{{.heights{{--paper:#fff;--band:#f0ebdf}}}}
"""

Point = tuple[float, float]  # beats a minute, cm


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
class ClassBand:
    """One class of stroke: from where to where it starts, and the height aimed at, cm."""

    name: str
    low_cm: float
    high_cm: float
    aim_cm: float


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
    bands: tuple[ClassBand, ...]
    turn: tuple[float, float] | None = None

    def x(self, bpm: float) -> float:
        """Return where a tempo lies."""
        share = (bpm - self.from_bpm) / (self.to_bpm - self.from_bpm)
        return LEFT + share * (WIDTH - LEFT - RIGHT)


def draw_heights(chart: HeightChart) -> str:
    """Draw the chart as an ``<svg>`` that brings its style along and its words for a screen reader."""
    inside = [
        el("style", ALONE + CHART_STYLE),
        el("rect", width=WIDTH, height=HEIGHT, style="fill:var(--paper)"),
        *_turn(chart),
        *(_band(band, chart.unit) for band in chart.bands),
        _heights_axis(chart.unit),
        _tempo_axis(chart),
        _now(chart),
        *(_curve(chart, curve) for curve in chart.curves),
        *_stops(chart),
        *_names(chart),
    ]
    return picture(
        inside,
        width=WIDTH,
        height=HEIGHT,
        key="heights",
        title=f"Stick height against tempo: {chart.exercise_text}",
        words=chart_words(chart),
        class_="heights",
    )


def _y(height_cm: float) -> float:
    """Return where a height lies."""
    return HEIGHT - BOTTOM - min(height_cm, TOP_CM) / TOP_CM * (HEIGHT - TOP - BOTTOM)


def _turn(chart: HeightChart) -> list[str]:
    """Shade where doubles turn, and say what they are to either side."""
    if chart.turn is None:
        return []
    a, b = (min(max(chart.x(bpm), LEFT), WIDTH - RIGHT) for bpm in chart.turn)
    shade = el("path", class_="turn", d=f"M{px(a)} {px(TOP)}H{px(b)}V{px(HEIGHT - BOTTOM)}H{px(a)}z")
    words = []
    if a - LEFT > WORDS_PX:
        words.append(text_at(a - 6, TOP - 8, "doubles: two wrist strokes", class_="e"))
    if WIDTH - b > WORDS_PX:
        words.append(text_at(b + 6, TOP - 8, "doubles: a throw and its bounce"))
    return [shade, *words]


def _band(band: ClassBand, unit: Unit) -> str:
    top, bottom, aim = (px(_y(each)) for each in (band.high_cm, band.low_cm, band.aim_cm))
    across = f"M{px(LEFT)} {top}H{px(WIDTH - RIGHT)}V{bottom}H{px(LEFT)}z"
    name = text_at(WIDTH - RIGHT + 8, _y(band.aim_cm) - 2, band.name, class_="ink")
    edges = f"{_figure(band.low_cm, unit)} to {_figure(band.high_cm, unit)} {unit}"
    return (
        el("path", class_="band", d=across)
        + el("path", class_="aim", d=f"M{px(LEFT)} {aim}H{px(WIDTH - RIGHT)}")
        + name
        + text_at(WIDTH - RIGHT + 8, _y(band.aim_cm) + 12, edges)
    )


def _figure(height_cm: float, unit: Unit) -> str:
    """Write a height without its unit, to a tenth where it isn't whole."""
    value = height_cm / (CM_PER_INCH if unit == "in" else 1.0)
    return f"{value:.1f}".removesuffix(".0")


def _heights_axis(unit: Unit) -> str:
    step_cm = 2 * CM_PER_INCH if unit == "in" else 5.0
    steps = [step_cm * i for i in range(math.floor(TOP_CM / step_cm + 1e-9) + 1)]
    ticks = "".join(f"M{px(LEFT - 5)} {px(_y(each))}h5" for each in steps)
    labels = [text_at(LEFT - 9, _y(each) + 4, _figure(each, unit), class_="e") for each in steps]
    axis = f"M{px(LEFT)} {px(TOP)}V{px(HEIGHT - BOTTOM)}H{px(WIDTH - RIGHT)}"
    title = text_at(LEFT - 9, TOP - 8, unit, class_="e")
    return el("path", class_="grid", d=axis + ticks) + "".join(labels) + title


def _tempo_axis(chart: HeightChart) -> str:
    span = chart.to_bpm - chart.from_bpm
    step = next((each for each in TEMPO_STEPS if span / each <= 9), TEMPO_STEPS[-1])
    at = range(math.ceil(chart.from_bpm / step) * step, math.floor(chart.to_bpm) + 1, step)
    ticks = "".join(f"M{px(chart.x(bpm))} {px(HEIGHT - BOTTOM)}v5" for bpm in at)
    labels = [text_at(chart.x(bpm), HEIGHT - BOTTOM + 18, bpm, class_="m") for bpm in at]
    title = text_at(WIDTH - 10, HEIGHT - BOTTOM + 36, f"{chart.beat} a minute", class_="e")
    return el("path", class_="grid", d=ticks) + "".join(labels) + title


def _now(chart: HeightChart) -> str:
    """Mark the tempo that was asked for."""
    if not chart.from_bpm <= chart.tempo_bpm <= chart.to_bpm:
        return ""
    x = chart.x(chart.tempo_bpm)
    line = el("path", class_="now", d=f"M{px(x)} {px(HEIGHT - BOTTOM)}V{px(TOP)}")
    return line + text_at(x, HEIGHT - BOTTOM + 36, f"{chart.beat} = {chart.tempo_bpm:g}", class_="m ink")


def _curve(chart: HeightChart, curve: HeightCurve) -> str:
    hand = _hand_class(curve.hand)
    return "".join(
        el("path", class_=f"{kind} {hand}", d="".join(_line(chart, part) for part in parts))
        for kind, parts in (("rise", curve.rise), ("free", curve.free))
        if any(len(_inside(part)) > 1 for part in parts)
    )


def _line(chart: HeightChart, part: Sequence[Point]) -> str:
    places = [f"{px(chart.x(bpm))} {px(_y(cm))}" for bpm, cm in _inside(part)]
    return "M" + "L".join(places) if len(places) > 1 else ""


def _inside(part: Sequence[Point]) -> list[Point]:
    """Leave out what lies above the drawing, but for the point where the line comes in."""
    out = [point for point in part if point[1] <= TOP_CM]
    for before, after in pairwise(part):
        if before[1] > TOP_CM >= after[1]:
            share = (before[1] - TOP_CM) / (before[1] - after[1])
            out.insert(0, (before[0] + share * (after[0] - before[0]), TOP_CM))
    return out


def _hand_class(hand: Hand | None) -> str:
    return "both" if hand is None else HAND_CLASS[hand]


def _stops(chart: HeightChart) -> list[str]:
    """Mark where a class stops being free: a dot on the line, and its tempo below."""
    out = []
    for curve in chart.curves:
        for name, bpm, cm in curve.stops:
            x, y, hand = chart.x(bpm), _y(cm), _hand_class(curve.hand)
            whose = "" if curve.hand is None or len(chart.curves) == 1 else f"{curve.hand}: "
            words_y = y + 16 if _is_slower_of_two(chart, curve, name, bpm) else y - 5
            out += [
                el("path", class_="drop", d=f"M{px(x)} {px(y)}V{px(HEIGHT - BOTTOM)}"),
                el("path", class_=f"end {hand}", d=f"M{px(x)} {px(y)}h0"),
                text_at(
                    x + 8, words_y, f"{whose}{name} free up to {_whole(bpm)}", class_=f"over hand {hand}"
                ),
            ]
    return out


def _is_slower_of_two(chart: HeightChart, curve: HeightCurve, name: str, bpm: float) -> bool:
    """Tell whether the other hand's mark for the same class stands close by on the right."""
    return any(
        other is not curve and each == name and 0 <= chart.x(faster) - chart.x(bpm) < CLOSE_PX
        for other in chart.curves
        for each, faster, _ in other.stops
    )


def _names(chart: HeightChart) -> list[str]:
    """Name the lines, in a row over the drawing."""
    if not chart.curves:
        return [text_at(LEFT, 16, "only buzz strokes: nothing rises by itself")]
    keys = [("free", _hand_class(curve.hand), _name(chart, curve)) for curve in chart.curves]
    keys.append(("rise", keys[0][1], "thrown hard, the most it rises"))
    head = "rises and falls by itself:"
    widths = [room_px(head, 12.0), *(32 + room_px(words, 12.0) for _, _, words in keys)]
    (_, *places) = in_rows(widths, WIDTH - LEFT, 14.0)
    out = [text_at(LEFT, 16, head)]
    for (kind, hand, words), (right, row) in zip(keys, places, strict=True):
        x, y = LEFT + right, 16.0 + row * 17
        out += [el("path", class_=f"{kind} {hand}", d=f"M{px(x)} {px(y - 4)}h26"), text_at(x + 32, y, words)]
    return out


def _name(chart: HeightChart, curve: HeightCurve) -> str:
    """Name a line, and say so where all of it lies over the drawing."""
    drawn = any(_line(chart, part) for part in curve.free)
    return HAND_WORDS[curve.hand] if drawn else f"{HAND_WORDS[curve.hand]} (higher than drawn)"


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
    bands = [
        f"{b.name} {_figure(b.low_cm, chart.unit)} to {_figure(b.high_cm, chart.unit)}" for b in chart.bands
    ]
    said.append(f"Bands, in {chart.unit}: {listed(bands)}.")
    return " ".join(said)


def _curve_words(chart: HeightChart, curve: HeightCurve) -> str:
    hand = HAND_WORDS[curve.hand].capitalize()
    stops = [f"{name} strokes up to {chart.beat} = {_whole(bpm)}" for name, bpm, _ in curve.stops]
    if not stops:
        return f"{hand}: no class of stroke stops being free between these tempos."
    return f"{hand}, rising and falling without force: {listed(stops)}."
