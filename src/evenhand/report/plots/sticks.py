r"""The sticks' heights over time, as they were seen: a line for each hand, the classes' bands, and the hits.

Conventions: px of the drawing's own units, y downwards; heights in cm over the pad; seconds on the sound's
timeline. A hit is a small leaning stick under the pad, ``/`` right and ``\`` left, a dot where no hand was
seen. A line breaks where the tape was not seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from evenhand.arrays import Floats
from evenhand.measuring.seen import SeenTake
from evenhand.music.exercise import HANDS, Hand
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeHeights
from evenhand.report.plots.marks import HAND_CLASS, hand_mark
from evenhand.report.plots.markup import TIME_STEPS_S, Axis, Frame, el, picture, steps_within, text_at
from evenhand.report.words.figures import clock_face
from evenhand.report.words.tests import PLURALS
from evenhand.report.words.watching import seen_sentences
from evenhand.watching.strokes import class_limits
from evenhand.watching.values import SeenStick, SeenStroke

WIDTH, LEFT, RIGHT, TOP = 760.0, 52.0, 12.0, 14.0
ROW_PX, UNDER_PX = 150.0, 44.0  # a row's chart; the hits and the times under it
SECONDS_A_ROW, MOST_ROWS = 6.0, 12
TALLEST_CM, GAP_S = 36.0, 0.12
POINTS_A_ROW = 700
HITS_Y, TIMES_Y = 9.0, 30.0
STICK_X, STICK_Y = 2.2, 4.2


def heights_picture(take: SeenTake, heights: StrokeHeights) -> str:
    """Draw all of a take, as many rows as it needs; "" where no height was seen."""
    sticks = take.watched.sticks
    times = [stroke.time_s for stroke in take.watched.strokes]
    if not sticks or not times:
        return ""
    start, end = max(times[0] - 0.5, 0.0), times[-1] + 0.5
    a_row = max(SECONDS_A_ROW, (end - start) / MOST_ROWS)
    rows = max(math.ceil((end - start) / a_row - 1e-6), 1)
    inside: list[str] = []
    for row in range(rows):
        inside += _row(take, heights, start + row * a_row, a_row, TOP + row * (ROW_PX + UNDER_PX))
    return picture(
        inside,
        width=WIDTH,
        height=TOP + rows * (ROW_PX + UNDER_PX),
        key="sticks",
        title="Height of the sticks over time",
        words=" ".join(seen_sentences(take)),
        class_="chart sticks",
    )


def _row(take: SeenTake, heights: StrokeHeights, start_s: float, seconds: float, top: float) -> Iterator[str]:
    """Draw one row: bands, lines, hits, times."""
    end_s = start_s + seconds
    across = Axis(start_s, end_s, steps_within(start_s, end_s, TIME_STEPS_S, 8))
    frame = Frame(LEFT, WIDTH - RIGHT, top, top + ROW_PX, across, Axis(0.0, TALLEST_CM))
    yield from _classes(frame, heights)
    yield el("path", class_="zero", d=frame.level(0.0))
    for hand in HANDS:
        if hand in take.watched.sticks:
            line = _line(frame, take.watched.sticks[hand])
            yield el("path", class_=f"line {HAND_CLASS[hand]}", d=line) if line else ""
    yield from _hits(frame, [s for s in take.watched.strokes if start_s <= s.time_s < end_s])
    yield from frame.places(clock_face, below_px=TIMES_Y)


def _classes(frame: Frame, heights: StrokeHeights) -> Iterator[str]:
    """Draw each class's reach, every second one pale, with its name."""
    edges = (0.0, *class_limits(heights), TALLEST_CM)
    for stroke, low, high in zip(STROKE_CLASSES, edges[:-1], edges[1:], strict=True):
        if stroke == "half":
            yield frame.band(low, high)
        yield text_at(LEFT - 8, (frame.y(low) + frame.y(high)) / 2 + 3.5, PLURALS[stroke], class_="n")


def _line(frame: Frame, stick: SeenStick) -> str:
    """Draw one stick's height, broken where it was not seen."""
    a, b = np.searchsorted(stick.times_s, (frame.across.low, frame.across.high))
    times, heights = stick.times_s[a:b], stick.height_cm[a:b]
    seen = np.isfinite(heights)
    times, heights = times[seen], np.maximum(heights[seen], 0.0)
    step = 1 + times.size // POINTS_A_ROW
    return "".join(
        frame.line(zip(t.tolist(), h.tolist(), strict=True))
        for t, h in _pieces(times[::step], heights[::step])
    )


def _pieces(times: Floats, heights: Floats) -> Iterator[tuple[Floats, Floats]]:
    cuts = np.flatnonzero(np.diff(times) > GAP_S) + 1
    yield from zip(np.split(times, cuts), np.split(heights, cuts), strict=True) if times.size else ()


def _hits(frame: Frame, strokes: Sequence[SeenStroke]) -> Iterator[str]:
    """Draw the hits under the pad, each leaning as its hand's stick does."""
    marks: Mapping[Hand | None, list[str]] = {hand: [] for hand in (*HANDS, None)}
    for stroke in strokes:
        marks[stroke.hand].append(
            hand_mark(frame.x(stroke.time_s), frame.bottom + HITS_Y, STICK_X, STICK_Y, stroke.hand)
        )
    for hand, paths in marks.items():
        if paths:
            yield el("path", class_=f"at {HAND_CLASS[hand]}", d="".join(paths))
