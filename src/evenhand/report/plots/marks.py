r"""The marks of the pictures as SVG paths: a leaning stick, a dot, a ring, a cross, a tick.

Conventions: px, y downwards; a right stick leans ``/``, a left one ``\``. Marks of one
look share one path, so that thousands of hits stay light.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import median

from evenhand.music.exercise import Hand
from evenhand.report.plots.markup import el, px
from evenhand.take import Heard

NO_LEVEL_DB = -25.0  # of a take without hits: a scale must stand somewhere
EDGE_PX = 4.0  # kept free at a column's edge: the tick of a stick that was drawn nearer than it came
LEAN = math.radians(34)
WEIGHTS = 5
SHORTEST = 0.4  # the softest stick's length as a share of the loudest one's
TICK_PX = 2.2


@dataclass(frozen=True, slots=True)
class Stroke:
    """How long and how heavy sticks are at this row height."""

    longest_px: float

    @classmethod
    def for_rows(cls, pitch_px: float, half_px: float) -> Stroke:
        """Fit the loudest stick into a row's height and into half a column's width."""
        return cls(min(0.98 * pitch_px / math.cos(LEAN), 0.9 * half_px / math.sin(LEAN), 24.0))

    @property
    def lean_px(self) -> float:
        """Half the width of the widest stick."""
        return self.longest_px * math.sin(LEAN) / 2

    def half_extent(self, strength: float) -> tuple[float, float]:
        """Half the width and half the height of a stick of this strength (0 to 1)."""
        length = self.longest_px * (SHORTEST + (1 - SHORTEST) * strength)
        return length * math.sin(LEAN) / 2, length * math.cos(LEAN) / 2

    def weight_px(self, step: int) -> float:
        """Line width of a weight, from 0 (soft) to ``WEIGHTS`` - 1 (loud)."""
        return (0.06 + 0.1 * step / (WEIGHTS - 1)) * self.longest_px + 0.15


@dataclass(frozen=True, slots=True)
class Ink:
    """Paths gathered by look; ``paths`` maps a class attribute and a width to path data."""

    paths: dict[tuple[str, float], list[str]] = field(default_factory=lambda: defaultdict(list))

    def add(self, class_: str, width_px: float, data: str) -> None:
        """Add path data to those of the same look."""
        self.paths[class_, width_px].append(data)

    def add_stick(
        self,
        stroke: Stroke,
        at: tuple[float, float],
        offset_px: float,
        *,
        room_px: float,
        hand: Hand,
        strength: float,
    ) -> tuple[float, int]:
        """Add a hit's stick around a place; return where its middle stands, and where it lies further out."""
        half_x, half_y = stroke.half_extent(strength)
        x, side = place(at[0], offset_px, room_px=room_px, half_x=half_x)
        weight = stroke.weight_px(round(strength * (WEIGHTS - 1)))
        self.add(HAND_CLASS[hand], weight, stick_path(x, at[1], half_x, half_y, hand))
        return x, side

    def drawn(self) -> str:
        """Return one path element for each look."""
        return "".join(
            el("path", class_=class_, stroke_width=f"{width:.2f}" if width else None, d="".join(data))
            for (class_, width), data in self.paths.items()
        )


HAND_CLASS: Mapping[Hand | None, str] = {"R": "r", "L": "l", None: "both"}


def middle_level_db(heard: Heard) -> float:
    """Return the take's middle: the level that half of its notes' hits lie above, dB.

    Every level that is shown as a difference, in the terminal as on the page, is taken from it.
    """
    levels = [hit.level_db for hit in heard.hits if not hit.grace]
    return median(levels) if levels else NO_LEVEL_DB


def hand_mark(x: float, y: float, half_x: float, half_y: float, hand: Hand | None) -> str:
    """Return a hand's leaning stick, or a dot where no hand is meant."""
    return dot_path(x, y) if hand is None else stick_path(x, y, half_x, half_y, hand)


def stick_path(x: float, y: float, half_x: float, half_y: float, hand: Hand) -> str:
    """Return a stick around a place, leaning the way its hand holds it."""
    if hand == "R":
        return f"M{px(x - half_x)} {px(y + half_y)}l{px(2 * half_x)} {px(-2 * half_y)}"
    return f"M{px(x - half_x)} {px(y - half_y)}l{px(2 * half_x)} {px(2 * half_y)}"


def place(x: float, offset_px: float, *, room_px: float, half_x: float) -> tuple[float, int]:
    """Return where a stick's middle is drawn, and -1 or 1 where it came further out than that.

    ``room_px`` is half the column; the stick and its tick stay inside it.
    """
    most = max(0.0, room_px - half_x - EDGE_PX)
    if offset_px > most:
        return x + most, 1
    if offset_px < -most:
        return x - most, -1
    return x + offset_px, 0


def tick_path(x: float, y: float, side: int, room_px: float) -> str:
    """Return the small arrow head at a column's edge: this one came further out than drawn."""
    tip = x + side * (room_px - 0.6)
    back = -side * TICK_PX
    return f"M{px(tip + back)} {px(y - TICK_PX)}l{px(-back)} {px(TICK_PX)}l{px(back)} {px(TICK_PX)}"


def ring_path(x: float, y: float, radius: float) -> str:
    """Return a circle; its class dashes it."""
    r, d = px(radius), px(2 * radius)
    return f"M{px(x - radius)} {px(y)}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0 -{d} 0"


def hood_path(x: float, y: float, radius: float) -> str:
    """Return an arch over a point: something lies under it."""
    r, d = px(radius), px(2 * radius)
    return f"M{px(x - radius)} {px(y + 0.5 * radius)}a{r} {r} 0 0 1 {d} 0M{px(x)} {px(y + 0.4 * radius)}h0"


def cross_path(x: float, y: float, arm: float) -> str:
    """Return a small cross."""
    d, top = px(2 * arm), px(y - arm)
    return f"M{px(x - arm)} {top}l{d} {d}M{px(x + arm)} {top}l-{d} {d}"


def dot_path(x: float, y: float) -> str:
    """Return a point; its line width and round ends make it a dot."""
    return f"M{px(x)} {px(y)}h0"
