"""The page of a minute of single strokes: its rate from start to end, and the figures.

Conventions: px of the drawing's own units, y downwards; seconds since the first stroke along x; strokes a
second upwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from evenhand.progress.minute.rates import RECORD_PER_S, HeardMinute
from evenhand.report.plots.axes import TIME_STEPS_S, Axis, Frame, Point, axis_over, steps_within
from evenhand.report.plots.marks import cross_path, dot_path
from evenhand.report.plots.markup import el, picture, text_at
from evenhand.report.plots.shell import (
    as_file,
    facts_line,
    page,
    page_head,
    prose_lines,
    section,
    table,
    wide_figure,
)
from evenhand.report.words.figures import MINUTE_CAUTION
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
LEAST_RANGE = 2.0  # strokes a second: a steady minute shall not look unsteady
MOST_GAPS = 200
CAPTION = (
    "Strokes a second, every two seconds. The straight line is the trend over the whole time; its pale band "
    "is where the trend lies with 95 % certainty."
)


def minute_page(heard: HeardMinute) -> str:
    """Return the page of a minute as one HTML page."""
    lines = [*heard.warnings, *count_lines(heard), tiring_line(heard), *hands_lines(heard)]
    figures = table(FIGURE_HEADS, figure_rows(heard), "Every figure with its range and count.")
    sentence = minute_top_words(heard)
    return page(
        f"{heard.name}: {sentence}",
        page_head(heard.name, sentence, facts_line(fact for fact in facts(heard) if fact)),
        wide_figure(minute_picture(heard), CAPTION) if heard.rate_per_s else "",
        section("What was heard", prose_lines(lines), "heard"),
        section("The figures", figures, "every-figure"),
        section("Take care", prose_lines([MINUTE_CAUTION]), "care"),
    )


def minute_drawing(heard: HeardMinute) -> str:
    """Return the picture alone, as an SVG file."""
    return as_file(minute_picture(heard))


def minute_picture(heard: HeardMinute) -> str:
    """Draw the rate from start to end."""
    points = [(at - heard.start_s, rate) for at, rate in heard.rate_per_s]
    rates = [rate for _, rate in points] or [heard.per_minute / 60]
    seconds = max(heard.seconds, 1e-9)
    times = Axis(0.0, seconds, steps_within(0.0, seconds, TIME_STEPS_S, 8))
    frame = Frame(LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, times, axis_over(rates, least_range=LEAST_RANGE))
    inside = [
        *_scales(frame),
        *_trend(heard, frame, points),
        el("path", class_="line both", d=frame.line(points)),
        el("path", class_="dot both", d="".join(dot_path(frame.x(at), frame.y(rate)) for at, rate in points)),
        *_gaps(heard, frame),
    ]
    return picture(
        inside,
        width=WIDTH,
        height=HEIGHT,
        key="rate",
        title="Strokes a second",
        words=f"{minute_top_words(heard)} {tiring_line(heard)}",
        class_="chart",
        stretch=1.3,
    )


def _scales(frame: Frame) -> Iterator[str]:
    """Draw the scales, and the published record where it is within them."""
    yield from frame.levels()
    yield text_at(LEFT - 8, TOP - 10, "strokes a second", class_="f s")
    yield from frame.places(lambda time_s: f"{time_s:g}" if time_s else "0 s")
    if frame.up.low < RECORD_PER_S < frame.up.high:
        yield el("path", class_="gap", d=frame.level(RECORD_PER_S))
        yield text_at(WIDTH - RIGHT, frame.y(RECORD_PER_S) - 5, "published record", class_="n")


def _trend(heard: HeardMinute, frame: Frame, points: Sequence[Point]) -> Iterator[str]:
    """Draw the trend with its band, a bow that crosses itself in the middle."""
    slope = heard.tiring_per_minute
    if slope.value is None or slope.ci95 is None or not points:
        return
    if not all(map(math.isfinite, slope.ci95)):
        return
    middle_s = sum(at for at, _ in points) / len(points)
    middle = sum(rate for _, rate in points) / len(points)
    ends = [points[0][0], points[-1][0]]

    def at(each: float) -> list[Point]:
        return [(time_s, middle + each * (time_s - middle_s) / 60) for time_s in ends]

    (low, high) = slope.ci95
    yield el("path", class_="band", d=frame.line([*at(low), *reversed(at(high))]) + "z")
    yield el("path", class_="both", d=frame.line(at(slope.value)))


def _gaps(heard: HeardMinute, frame: Frame) -> Iterator[str]:
    """Mark strokes that were left out, at the foot of the scale."""
    for at in heard.left_out_s[:MOST_GAPS]:
        yield el("path", class_="cross", d=cross_path(frame.x(at - heard.start_s), frame.bottom - 3, 3.0))
