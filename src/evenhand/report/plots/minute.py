"""The page of a minute of single strokes: the course of its rate, and the figures.

Conventions: px of the drawing's own units, y downwards; seconds since the first stroke along x; strokes a
second upwards.
"""

from __future__ import annotations

import math

from evenhand.progress.minute.rates import RECORD_PER_S, HeardMinute
from evenhand.report.plots.charts import axis_over
from evenhand.report.plots.markup import el, picture, prose, px, text_at
from evenhand.report.plots.shell import alone, figure_with, leaf, section, table
from evenhand.report.words.figures import MINUTE_CAUTION, plain
from evenhand.report.words.tests import (
    FIGURE_HEADS,
    count_lines,
    facts,
    figure_rows,
    hands_lines,
    minute_top_words,
    tiring_line,
)

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 760.0, 260.0, 44.0, 20.0, 24.0, 34.0
STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600)
LEAST_RANGE = 2.0  # strokes a second: a steady minute shall not look unsteady
CAPTION = (
    "Strokes a second, every two seconds. The straight line is the trend over the whole time; its pale band "
    "is where the trend lies with 95 % certainty."
)


def minute_page(heard: HeardMinute) -> str:
    """Return the page of a minute as one HTML page."""
    lines = [*heard.warnings, *count_lines(heard), tiring_line(heard), *hands_lines(heard)]
    return leaf(
        name=heard.name,
        title=minute_top_words(heard),
        facts=[fact for fact in facts(heard) if fact],
        body=[
            figure_with(minute_picture(heard), CAPTION) if heard.rate_per_s else "",
            section("What was heard", "".join(el("p", prose(line)) for line in lines)),
            section(
                "The figures",
                table(FIGURE_HEADS, figure_rows(heard), "Every figure with its range and count."),
            ),
            section("Take care", el("p", prose(MINUTE_CAUTION))),
        ],
    )


def minute_drawing(heard: HeardMinute) -> str:
    """Return the picture alone, as an SVG file."""
    return alone(minute_picture(heard))


def minute_picture(heard: HeardMinute) -> str:
    """Draw the course of the rate."""
    points = [(at - heard.start_s, rate) for at, rate in heard.rate_per_s]
    rates = [rate for _, rate in points] or [heard.per_minute / 60]
    axis = axis_over(rates, least_range=LEAST_RANGE)
    place = _Place(max(heard.seconds, 1e-9), axis.low, axis.high)
    line = "".join(
        f"{'L' if i else 'M'}{px(place.x(at))} {px(place.y(rate))}" for i, (at, rate) in enumerate(points)
    )
    dots = "".join(f"M{px(place.x(at))} {px(place.y(rate))}h.01" for at, rate in points)
    inside = [
        *_grid(place, axis.steps, axis.decimals),
        _trend(heard, place, points),
        el("path", class_="line both", d=line) if line else "",
        el("path", class_="dot both", d=dots, style="stroke-width:4.6"),
        *_gaps(heard, place),
    ]
    words = f"{minute_top_words(heard)} {tiring_line(heard)}"
    return picture(
        inside,
        width=WIDTH,
        height=HEIGHT,
        key="rate",
        title="Strokes a second",
        words=words,
        class_="chart",
        stretch=1.3,
    )


class _Place:
    """Where a time and a rate are drawn."""

    def __init__(self, seconds: float, low: float, high: float) -> None:
        self.seconds, self.low, self.high = seconds, low, high

    def x(self, time_s: float) -> float:
        """Return where a time since the first stroke is drawn."""
        return LEFT + min(max(time_s / self.seconds, 0.0), 1.0) * (WIDTH - LEFT - RIGHT)

    def y(self, rate: float) -> float:
        """Return where a rate is drawn."""
        share = (rate - self.low) / (self.high - self.low)
        return HEIGHT - BOTTOM - min(max(share, 0.0), 1.0) * (HEIGHT - TOP - BOTTOM)


def _grid(place: _Place, steps: tuple[float, ...], decimals: int) -> list[str]:
    """Draw the scales, and the published record where it is within them."""
    lines = "".join(f"M{px(LEFT)} {px(place.y(step))}H{px(WIDTH - RIGHT)}" for step in steps)
    out = [el("path", class_="grid", d=lines)]
    out += [text_at(LEFT - 8, place.y(step) + 3.5, plain(step, decimals), class_="n") for step in steps]
    out.append(text_at(LEFT - 8, TOP - 10, "strokes a second", class_="f s"))
    step_s = next((s for s in STEPS_S if place.seconds / s <= 8), STEPS_S[-1])
    for i in range(int(place.seconds / step_s + 1e-6) + 1):
        words = f"{i * step_s} s" if i == 0 else str(i * step_s)
        out.append(text_at(place.x(i * step_s), HEIGHT - BOTTOM + 18, words, class_="n m"))
    if place.low < RECORD_PER_S < place.high:
        y = place.y(RECORD_PER_S)
        out.append(el("path", class_="gap", d=f"M{px(LEFT)} {px(y)}H{px(WIDTH - RIGHT)}"))
        out.append(text_at(WIDTH - RIGHT, y - 5, "published record", class_="n"))
    return out


def _trend(heard: HeardMinute, place: _Place, points: list[tuple[float, float]]) -> str:
    """Draw the trend with its band."""
    slope = heard.tiring_per_minute
    if slope.value is None or slope.ci95 is None or not points:
        return ""
    middle_s = sum(at for at, _ in points) / len(points)
    middle = sum(rate for _, rate in points) / len(points)
    first, last = points[0][0], points[-1][0]

    def at(each: float, time_s: float) -> str:
        return f"{px(place.x(time_s))} {px(place.y(middle + each * (time_s - middle_s) / 60))}"

    low, high = slope.ci95
    if not all(math.isfinite(edge) for edge in (low, high)):
        return ""
    wedge = (
        f"M{at(low, first)}L{at(low, last)}L{at(high, last)}L{at(high, first)}z"  # a bow: it crosses itself
    )
    line = el(
        "path",
        class_="both",
        d=f"M{at(slope.value, first)}L{at(slope.value, last)}",
        style="stroke-width:1.2",
    )
    return el("path", class_="band", d=wedge) + line


def _gaps(heard: HeardMinute, place: _Place) -> list[str]:
    """Mark strokes that were left out, under the scale."""
    return [
        el(
            "path",
            class_="cross",
            d=f"M{px(place.x(at - heard.start_s) - 3)} {px(HEIGHT - BOTTOM - 6)}l6 6m0 -6l-6 6",
        )
        for at in heard.left_out_s[:200]
    ]
