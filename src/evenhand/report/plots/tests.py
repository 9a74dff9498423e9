"""The pages of the two tests of a hand: dropped sticks, and a minute of single strokes.

Conventions: px of the drawing's own units, y downwards. Each drop is drawn as the way its tip went: seconds
from its first hit along x, heights in cm of a free fall, the same for all; blue is the right hand, rust the
left. A minute has seconds since the first stroke along x, strokes a second upwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import Unit
from evenhand.progress.bounce.restitution import HeardBounce, HeardDrop
from evenhand.progress.minute.rates import RECORD_PER_S, HeardMinute
from evenhand.report.plots.marks import HAND_CLASS, cross_path, dot_path
from evenhand.report.plots.markup import (
    TIME_STEPS_S,
    Axis,
    Frame,
    Point,
    axis_over,
    el,
    picture,
    px,
    shortened,
    steps_within,
    text_at,
)
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
from evenhand.report.words.figures import DROP_CAUTION, MINUTE_CAUTION, count, duration
from evenhand.report.words.remarks import remark_words
from evenhand.report.words.tests import (
    DAMPED_NOTE,
    DROP_HEADS,
    FIGURE_HEADS,
    HEIGHT_NOTE,
    SEEN_HEADS,
    SEEN_NOTE,
    bounce_top_words,
    count_lines,
    drop_cells,
    facts,
    figure_rows,
    hands_lines,
    kept,
    label_line,
    minute_top_words,
    pair_line,
    seen_rows,
    tiring_line,
)

WIDTH, LEFT, RIGHT = 760.0, 96.0, 176.0
ROW, ARC, BELOW = 74.0, 52.0, 30.0
G_CM_PER_S2 = 980.665
MOST_DRAWN = 40
SIMPLE_HANDS: Mapping[str, Hand] = {"R": "R", "L": "L"}
LONGEST_LABEL = 12
CAPTION = (
    "Each line is one drop, from its first hit on. The arcs are the flights between hits, as high as a "
    "free fall of that length; the marks under the line are the hits. The dashed piece is where it was "
    "dropped from. A cross says where something damped it."
)


def bounce_page(heard: HeardBounce, unit: Unit = "in") -> str:
    """Return the page of a take of drops as one HTML page."""
    said = [*(label_line(label) for label in heard.labels), *(pair_line(pair) for pair in heard.comparisons)]
    drops = list(enumerate(heard.drops, start=1))
    figures = table(
        DROP_HEADS, [drop_cells(*each, unit) for each in drops], "Figures with their 95 % ranges."
    )
    whys = [f"Drop {number}: {remark_words(drop.why)}" for number, drop in drops if drop.kind != "free"]
    rows = seen_rows(heard, unit)
    seen = table(SEEN_HEADS, rows, SEEN_NOTE) if rows else ""
    notes = [DROP_CAUTION, *heard.warnings, HEIGHT_NOTE, *([DAMPED_NOTE] if whys else [])]
    facts = facts_line((count(len(heard.drops), "drop"), f"{duration(heard.input.seconds)} recorded"))
    sentence = bounce_top_words(heard)
    return page(
        f"{heard.name}: {sentence}",
        page_head(heard.name, sentence, facts),
        wide_figure(bounce_picture(heard), CAPTION),
        section("Which bounces longest", prose_lines(said), "longest"),
        section("Every drop", figures + prose_lines(whys), "drops"),
        section("As it was seen", seen, "seen"),
        section("Take care", prose_lines(notes), "care"),
    )


def bounce_drawing(heard: HeardBounce) -> str:
    """Return the picture alone, as an SVG file."""
    return as_file(bounce_picture(heard))


def bounce_picture(heard: HeardBounce) -> str:
    """Draw the drops under each other."""
    drops = heard.drops[:MOST_DRAWN]
    longest_s = max((drop.rings_s for drop in drops), default=1.0)
    fall_s = max((_fall_s(drop) for drop in drops), default=0.0)
    per_s = (WIDTH - LEFT - RIGHT) / max(longest_s + fall_s, 0.1)
    tallest = max((tallest_cm(drop) for drop in drops), default=1.0)
    scale = Flights(LEFT + fall_s * per_s, per_s, ARC / max(tallest, 1.0))
    bottom = ROW * len(drops)
    words = " ".join(
        f"Drop {i}: {drop.bounces} bounces, keeps {kept(drop.restitution)}, {drop.kind}."
        for i, drop in enumerate(drops, start=1)
    )
    return picture(
        [
            *(part for i, drop in enumerate(drops) for part in _row(i, drop, scale)),
            *_times(scale, longest_s, bottom),
        ],
        width=WIDTH,
        height=bottom + BELOW,
        key="drops",
        title="Drops",
        words=words,
        class_="chart",
        stretch=1.3,
    )


@dataclass(frozen=True, slots=True)
class Flights:
    """Where a time and a height are drawn."""

    zero_px: float
    px_per_s: float
    px_per_cm: float

    def x(self, time_s: float) -> float:
        """Return where a time after the first hit is drawn."""
        return self.zero_px + time_s * self.px_per_s

    def arc(self, start_s: float, end_s: float, y: float) -> str:
        """Draw one flight: a parabola, as high as its length says."""
        height = G_CM_PER_S2 / 8 * (end_s - start_s) ** 2 * self.px_per_cm
        middle = self.x((start_s + end_s) / 2)
        return f"M{px(self.x(start_s))} {px(y)}Q{px(middle)} {px(y - 2 * height)} {px(self.x(end_s))} {px(y)}"


def _fall_s(drop: HeardDrop) -> float:
    """Return how long the stick fell before its first hit."""
    height = drop.first_height_cm.value
    return 0.0 if height is None else math.sqrt(2 * height / G_CM_PER_S2)


def tallest_cm(drop: HeardDrop) -> float:
    """Return the highest the row needs."""
    flights = [G_CM_PER_S2 / 8 * (b - a) ** 2 for a, b in pairwise(drop.hits_s[:3])]
    return max([drop.first_height_cm.value or 0.0, *flights])


def _row(index: int, drop: HeardDrop, scale: Flights) -> Iterator[str]:
    y = ROW * index + ARC + 12
    label = drop.label or ""
    ink = HAND_CLASS[SIMPLE_HANDS.get(label.split(",")[0])]
    hits = [hit - drop.start_s for hit in drop.hits_s]
    arcs = "".join(scale.arc(a, b, y) for a, b in pairwise(hits))
    yield el("path", class_="grid", d=f"M{px(LEFT)} {px(y)}H{px(WIDTH - RIGHT)}")
    yield _fall(drop, scale, y)
    yield el("path", class_=f"line {ink}", d=arcs)
    yield el("path", class_=f"at {ink}", d="".join(f"M{px(scale.x(t))} {px(y + 3)}v5" for t in hits))
    title = f"{index + 1}  {shortened(label, LONGEST_LABEL)}".strip()
    yield text_at(LEFT - 10, y + 3.5, title, class_="n")
    keeps = "too few hits" if drop.restitution.value is None else f"keeps {kept(drop.restitution)}"
    yield text_at(WIDTH - RIGHT + 12, y - 10, keeps, class_="f s")
    yield text_at(WIDTH - RIGHT + 12, y + 5, f"{drop.bounces} bounces, {drop.kind}")
    if drop.damped_from_s is not None:
        x = scale.x(drop.damped_from_s - drop.start_s) + 7
        yield el("path", class_="cross", d=cross_path(x, y - 6, 3.0))


def _fall(drop: HeardDrop, scale: Flights, y: float) -> str:
    """Draw the fall before the first hit."""
    height = drop.first_height_cm.value
    if height is None:
        return ""
    start, end, top = scale.x(-_fall_s(drop)), scale.x(0.0), px(y - height * scale.px_per_cm)
    bow = f"M{px(start)} {top}Q{px((start + end) / 2)} {top} {px(end)} {px(y)}"
    return el("path", class_="gap", d=bow)


def _times(scale: Flights, longest_s: float, bottom: float) -> Iterator[str]:
    """Write the time under the rows."""
    steps = steps_within(0.0, longest_s, TIME_STEPS_S, 8)
    yield el("path", class_="grid", d="".join(f"M{px(scale.x(step))} {px(bottom - 2)}v4" for step in steps))
    for step in steps:
        yield text_at(scale.x(step), bottom + 15, f"{step:g}" if step else "0 s", class_="n m")


MINUTE_WIDTH, HEIGHT, MINUTE_LEFT, MINUTE_RIGHT, TOP, BOTTOM = 760.0, 260.0, 44.0, 20.0, 24.0, 34.0
LEAST_RANGE = 2.0  # strokes a second: a steady minute shall not look unsteady
MOST_GAPS = 200
MINUTE_CAPTION = (
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
        wide_figure(minute_picture(heard), MINUTE_CAPTION) if heard.rate_per_s else "",
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
    frame = Frame(
        MINUTE_LEFT,
        MINUTE_WIDTH - MINUTE_RIGHT,
        TOP,
        HEIGHT - BOTTOM,
        times,
        axis_over(rates, least_range=LEAST_RANGE),
    )
    inside = [
        *_scales(frame),
        *_trend(heard, frame, points),
        el("path", class_="line both", d=frame.line(points)),
        el("path", class_="dot both", d="".join(dot_path(frame.x(at), frame.y(rate)) for at, rate in points)),
        *_gaps(heard, frame),
    ]
    return picture(
        inside,
        width=MINUTE_WIDTH,
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
    yield text_at(MINUTE_LEFT - 8, TOP - 10, "strokes a second", class_="f s")
    yield from frame.places(lambda time_s: f"{time_s:g}" if time_s else "0 s")
    if frame.up.low < RECORD_PER_S < frame.up.high:
        yield el("path", class_="gap", d=frame.level(RECORD_PER_S))
        yield text_at(MINUTE_WIDTH - MINUTE_RIGHT, frame.y(RECORD_PER_S) - 5, "published record", class_="n")


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
