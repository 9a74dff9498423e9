"""The page of dropped sticks: each drop drawn as the way its tip went.

Conventions: px of the drawing's own units, y downwards; seconds from each drop's first blow along x, the
same for all; heights in cm of a free fall, the same for all. Blue is the right hand, rust the left.
"""

from __future__ import annotations

import math
from itertools import pairwise

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import Unit
from evenhand.progress.bounce.restitution import HeardBounce, HeardDrop
from evenhand.report.plots.markup import el, picture, prose, px, text_at
from evenhand.report.plots.shell import alone, figure_with, leaf, section, table
from evenhand.report.words.figures import DROP_CAUTION, count, plain
from evenhand.report.words.remarks import remark_words
from evenhand.report.words.tests import (
    DAMPED_NOTE,
    DROP_HEADS,
    HEIGHT_NOTE,
    bounce_top_words,
    drop_cells,
    kept,
    label_line,
    pair_line,
)
from evenhand.report.words.times import duration

WIDTH, LEFT, RIGHT = 760.0, 96.0, 176.0
ROW, ARC, BELOW = 74.0, 52.0, 30.0
G_CM_PER_S2 = 980.665
STEPS_S = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
MOST_DRAWN = 40
SIMPLE_HANDS: dict[str, Hand] = {"R": "R", "L": "L"}
CAPTION = (
    "Each line is one drop, from its first hit on. The arcs are the flights between hits, as high as a "
    "free fall of that length; the marks under the line are the hits. The dashed piece is where it was "
    "dropped from. A cross says where something damped it."
)


def bounce_page(heard: HeardBounce, unit: Unit = "in") -> str:
    """Return the page of a take of drops as one HTML page."""
    said = [*(label_line(label) for label in heard.labels), *(pair_line(pair) for pair in heard.comparisons)]
    rows = [drop_cells(number, drop, unit) for number, drop in enumerate(heard.drops, start=1)]
    whys = [
        f"Drop {number}: {remark_words(drop.why)}"
        for number, drop in enumerate(heard.drops, start=1)
        if drop.kind != "free"
    ]
    notes = [*heard.warnings, HEIGHT_NOTE, *([DAMPED_NOTE] if whys else [])]
    return leaf(
        name=heard.name,
        title=bounce_top_words(heard),
        facts=(count(len(heard.drops), "drop"), f"{duration(heard.input.seconds)} recorded"),
        body=[
            figure_with(bounce_picture(heard), CAPTION),
            section("Which bounces longest", "".join(el("p", prose(line)) for line in said)),
            section("Every drop", table(DROP_HEADS, rows, "Figures with their 95 % ranges.") + _lines(whys)),
            section("Take care", _lines([DROP_CAUTION, *notes])),
        ],
    )


def _lines(lines: list[str]) -> str:
    return "".join(el("p", prose(line)) for line in lines)


def bounce_drawing(heard: HeardBounce) -> str:
    """Return the picture alone, as an SVG file."""
    return alone(bounce_picture(heard))


def bounce_picture(heard: HeardBounce) -> str:
    """Draw the drops under each other."""
    drops = heard.drops[:MOST_DRAWN]
    longest_s = max((drop.rings_s for drop in drops), default=1.0)
    fall_s = max((_fall_s(drop) for drop in drops), default=0.0)
    per_s = (WIDTH - LEFT - RIGHT) / max(longest_s + fall_s, 0.1)
    tallest = max((_tallest_cm(drop) for drop in drops), default=1.0)
    scale = _Scale(LEFT + fall_s * per_s, per_s, ARC / max(tallest, 1.0))
    inside = [part for i, drop in enumerate(drops) for part in _row(i, drop, scale)]
    bottom = ROW * len(drops)
    inside += _times(scale, longest_s, bottom)
    words = " ".join(
        f"Drop {i}: {drop.bounces} bounces, keeps {kept(drop.restitution)}, {drop.kind}."
        for i, drop in enumerate(drops, start=1)
    )
    return picture(
        inside,
        width=WIDTH,
        height=bottom + BELOW,
        key="drops",
        title="Drops",
        words=words,
        class_="chart",
        stretch=1.3,
    )


class _Scale:
    """Where a time and a height are drawn."""

    def __init__(self, zero_px: float, px_per_s: float, px_per_cm: float) -> None:
        self.zero_px, self.px_per_s, self.px_per_cm = zero_px, px_per_s, px_per_cm

    def x(self, time_s: float) -> float:
        """Return where a time after the first blow is drawn."""
        return self.zero_px + time_s * self.px_per_s

    def arc(self, start_s: float, end_s: float, y: float) -> str:
        """Draw one flight: a parabola, as high as its length says."""
        height = G_CM_PER_S2 / 8 * (end_s - start_s) ** 2 * self.px_per_cm
        middle = self.x((start_s + end_s) / 2)
        return f"M{px(self.x(start_s))} {px(y)}Q{px(middle)} {px(y - 2 * height)} {px(self.x(end_s))} {px(y)}"


def _fall_s(drop: HeardDrop) -> float:
    """Return how long the stick fell before its first blow."""
    height = drop.first_height_cm.value
    return 0.0 if height is None else math.sqrt(2 * height / G_CM_PER_S2)


def _tallest_cm(drop: HeardDrop) -> float:
    """Return the highest the row needs."""
    flights = [G_CM_PER_S2 / 8 * (b - a) ** 2 for a, b in pairwise(drop.hits_s[:3])]
    return max([drop.first_height_cm.value or 0.0, *flights])


def _row(index: int, drop: HeardDrop, scale: _Scale) -> list[str]:
    y = ROW * index + ARC + 12
    hand = SIMPLE_HANDS.get((drop.label or "").split(",")[0])
    ink = {"R": "r", "L": "l"}.get(hand or "", "both")
    hits = [hit - drop.start_s for hit in drop.hits_s]
    arcs = "".join(scale.arc(a, b, y) for a, b in pairwise(hits))
    marks = "".join(f"M{px(scale.x(t))} {px(y + 3)}v5" for t in hits)
    out = [
        el("path", class_="grid", d=f"M{px(LEFT)} {px(y)}H{px(WIDTH - RIGHT)}"),
        _fall(drop, scale, y),
        el("path", class_=f"line {ink}", d=arcs) if arcs else "",
        el("path", class_=f"at {ink}", d=marks),
        text_at(LEFT - 10, y + 3.5, _title(index, drop), class_="n"),
        text_at(WIDTH - RIGHT + 12, y - 10, _says(drop), class_="f s"),
        text_at(WIDTH - RIGHT + 12, y + 5, f"{drop.bounces} bounces, {drop.kind}"),
    ]
    if drop.damped_from_s is not None:
        x = scale.x(drop.damped_from_s - drop.start_s) + 7
        out.append(el("path", class_="cross", d=f"M{px(x - 3)} {px(y - 9)}l6 6m0 -6l-6 6"))
    return out


def _fall(drop: HeardDrop, scale: _Scale, y: float) -> str:
    """Draw the fall before the first blow."""
    height = drop.first_height_cm.value
    if height is None:
        return ""
    start, top = scale.x(-_fall_s(drop)), y - height * scale.px_per_cm
    half = (start + scale.x(0.0)) / 2
    return el(
        "path", class_="gap", d=f"M{px(start)} {px(top)}Q{px(half)} {px(top)} {px(scale.x(0.0))} {px(y)}"
    )


def _title(index: int, drop: HeardDrop) -> str:
    label = drop.label or ""
    short = label if len(label) <= 12 else f"{label[:11]}…"
    return f"{index + 1}  {short}".strip()


def _says(drop: HeardDrop) -> str:
    if drop.restitution.value is None:
        return "too few hits"
    return f"keeps {kept(drop.restitution)}"


def _times(scale: _Scale, longest_s: float, bottom: float) -> list[str]:
    """Write the time under the rows."""
    step = next((s for s in STEPS_S if longest_s / s <= 8), STEPS_S[-1])
    out = []
    for i in range(int(longest_s / step + 1e-9) + 1):
        x = scale.x(i * step)
        out.append(el("path", class_="grid", d=f"M{px(x)} {px(bottom - 2)}v4"))
        decimals = 1 if step < 1 else 0
        unit = " s" if i == 0 else ""
        out.append(text_at(x, bottom + 15, f"{plain(i * step, decimals)}{unit}", class_="n m"))
    return out
