"""Axes and the frame of a chart: where a value is drawn, the written steps, and what is drawn between them.

Conventions: px of the drawing's own units, y downwards. A value beyond an axis is drawn at its end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from evenhand.report.plots.markup import el, px, text_at
from evenhand.report.words.figures import plain

SPARE = 0.04  # of a tight axis, beyond its values
TIME_STEPS_S = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200)
LABEL_GAP_PX, HALF_LETTER_PX = 7.0, 3.5

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Axis:
    """A range of values with the steps that are written at it."""

    low: float
    high: float
    steps: Sequence[float] = ()
    decimals: int = 0
    on_log: bool = False

    def share(self, value: float) -> float:
        """Return how far along the axis a value lies, from 0 to 1."""
        low, high = self.low, self.high
        if self.on_log:
            low, high, value = math.log(low), math.log(high), math.log(value)
        return min(max((value - low) / (high - low), 0.0), 1.0)


def axis_over(
    values: Sequence[float], *, least_range: float, floor: float | None = None, tight: bool = False
) -> Axis:
    """Choose a range with round steps, never so narrow that what is steady looks unsteady.

    It ends at its outermost steps; a ``tight`` one a little beyond its values.
    """
    low, high = min(values), max(values)
    spare = max(0.0, least_range - (high - low)) / 2
    low, high = (low - spare, high + spare) if floor is None else (floor, max(high, floor + least_range))
    if tight:
        room = SPARE * (high - low)
        low, high = (low - room if floor is None else low), high + room
    step = round_step((high - low) / (3.5 if tight else 2.5))
    first, last = low / step, high / step
    if tight:
        ends = math.ceil(first - 1e-9), math.floor(last + 1e-9)
    else:
        ends = math.floor(first + 1e-9), math.ceil(last - 1e-9)
        low, high = ends[0] * step, ends[1] * step
    steps = tuple(i * step for i in range(ends[0], ends[1] + 1))
    return Axis(low, high, steps, max(0, -math.floor(math.log10(step) + 1e-9)))


def round_step(least: float) -> float:
    """Return 1, 2 or 5 times a power of ten, at least so large.

    >>> round_step(0.3), round_step(20.0)
    (0.5, 20.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(nice * power for nice in (1, 2, 5, 10) if nice * power >= least * (1 - 1e-9))


def steps_within(low: float, high: float, sizes: Sequence[float], most: float) -> tuple[float, ...]:
    """Return the multiples between two values of the first size of which no more than ``most`` fit.

    >>> steps_within(0.0, 62.0, TIME_STEPS_S, 8)
    (0, 10, 20, 30, 40, 50, 60)
    """
    size = next((each for each in sizes if (high - low) / each <= most), sizes[-1])
    return tuple(i * size for i in range(math.ceil(low / size - 1e-9), math.floor(high / size + 1e-9) + 1))


def joined(points: Iterable[Point]) -> str:
    """Return a line through places as path data; "" of none."""
    line = "L".join(f"{px(x)} {px(y)}" for x, y in points)
    return f"M{line}" if line else ""


def box(left: float, top: float, right: float, bottom: float) -> str:
    """Return a rectangle as path data."""
    return f"M{px(left)} {px(top)}H{px(right)}V{px(bottom)}H{px(left)}z"


@dataclass(frozen=True, slots=True)
class Frame:
    """A chart's edges and its two axes."""

    left: float
    right: float
    top: float
    bottom: float
    across: Axis
    up: Axis

    def x(self, value: float) -> float:
        """Return where a value of the axis across is drawn."""
        return self.left + self.across.share(value) * (self.right - self.left)

    def y(self, value: float) -> float:
        """Return where a value of the axis upwards is drawn."""
        return self.bottom - self.up.share(value) * (self.bottom - self.top)

    def line(self, points: Iterable[Point]) -> str:
        """Return a line through values as path data."""
        return joined([(self.x(x), self.y(y)) for x, y in points])

    def ribbon(self, points: Sequence[tuple[float, float, float]]) -> str:
        """Draw the pale band between two lines: each point is across, low, high."""
        there = [(x, high) for x, _, high in points]
        back = [(x, low) for x, low, _ in reversed(points)]
        return el("path", class_="band", d=self.line([*there, *back]) + "z")

    def band(self, low: float, high: float) -> str:
        """Draw the pale band between two values of the axis upwards."""
        return el("path", class_="band", d=box(self.left, self.y(high), self.right, self.y(low)))

    def level(self, value: float) -> str:
        """Return a straight line at a value of the axis upwards as path data."""
        return f"M{px(self.left)} {px(self.y(value))}H{px(self.right)}"

    def upright(self, value: float) -> str:
        """Return a straight line at a value of the axis across as path data."""
        return f"M{px(self.x(value))} {px(self.top)}V{px(self.bottom)}"

    def whisker(self, value: float, low: float, high: float) -> str:
        """Return an upright range at a value of the axis across as path data."""
        return f"M{px(self.x(value))} {px(self.y(low))}V{px(self.y(high))}"

    def levels(self) -> Iterator[str]:
        """Draw a line across at each step of the axis upwards, its figure left of it."""
        yield el("path", class_="grid", d="".join(map(self.level, self.up.steps)))
        for step in self.up.steps:
            words = plain(step, self.up.decimals)
            yield text_at(self.left - LABEL_GAP_PX, self.y(step) + HALF_LETTER_PX, words, class_="n")

    def places(self, written: Callable[[float], object], *, below_px: float = 17.0) -> Iterator[str]:
        """Draw a tick at each step of the axis across, and what is written of it below."""
        ticks = "".join(f"M{px(self.x(step))} {px(self.bottom)}v4" for step in self.across.steps)
        yield el("path", class_="grid", d=ticks)
        for step in self.across.steps:
            yield text_at(self.x(step), self.bottom + below_px, written(step), class_="n m")
