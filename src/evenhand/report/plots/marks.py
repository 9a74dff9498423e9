r"""The marks of the folded picture as SVG paths: a leaning stick, a ring, a cross, a tick.

Conventions: px, y downwards; a right stick leans ``/``, a left one ``\``. Marks of one
look share one path, so that thousands of hits stay light.

How the folded picture is drawn to scale: one magnification in time, one range of levels.

Conventions: ms, negative = early; dB; px of the drawing's own units. "Factor" is how
many times wider time is drawn in a column than the music above draws it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

from evenhand.measuring.values import HeardTake, audible_ms, typical_step
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.exercise import Exercise, Hand
from evenhand.report.plots.markup import el, px
from evenhand.report.take.rows import Row
from evenhand.take import Heard

FACTORS = (0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)
WIDEST_HALF_PX = 34.0
LEAST_HALF_PX = 5.0
NO_LEVEL_DB = -25.0  # of a take without hits: a scale must stand somewhere
KEPT_INSIDE = 0.97  # share of the hits that the magnification must leave inside their columns
BAND_SHARE = 0.36  # the audible band is at most this share of its column
LEAST_RANGE_DB = 10.0  # an even take's sticks shall not look uneven
EDGE_PX = 4.0  # kept free at a column's edge: the tick of a stick that was drawn nearer than it came


@dataclass(frozen=True, slots=True)
class Columns:
    """The room that one engraving leaves: half a column, and how far the music goes in a ms."""

    half_px: float
    music_px_per_ms: float


@dataclass(frozen=True, slots=True)
class Scale:
    """What a place and a length mean. ``centre_ms`` is drawn in the middle of each column."""

    factor: float
    centre_ms: float
    audible_ms: float
    quietest_db: float
    loudest_db: float
    middle_db: float

    def strength(self, level_db: float) -> float:
        """Return a level as 0 (quietest drawn) to 1 (loudest drawn)."""
        share = (level_db - self.quietest_db) / (self.loudest_db - self.quietest_db)
        return min(1.0, max(0.0, share))


def interval_of(take: HeardTake) -> float:
    """Return the typical time between neighbouring notes, ms: as measured, else as written."""
    if take.measures is not None and take.measures.interval_ms:
        return take.measures.interval_ms
    if take.exercise is None or take.tempo is None:
        return 200.0
    step = typical_step(take.exercise) if take.exercise.struck else 0.25
    return step * take.tempo.whole_note_s * 1000


def columns_of(engraved: EngravedExercise, exercise: Exercise, interval_ms: float) -> Columns:
    """Measure the columns that an engraving's struck notes leave."""
    struck = set(exercise.struck)
    steps = [
        b.x - a.x
        for line in engraved.lines
        for a, b in pairwise(note for note in line.notes if note.position in struck)
    ]
    steps = [step for step in steps if step > 0] or [2 * WIDEST_HALF_PX]
    half = max(LEAST_HALF_PX, min(min(steps) / 2, WIDEST_HALF_PX))
    return Columns(half, median(steps) / interval_ms)


def scale_of(rows: Sequence[Row], rooms: Iterable[tuple[Columns, float]], interval_ms: float) -> Scale:
    """Choose the largest round magnification that keeps the hits inside their columns.

    ``rooms`` are the columns of each engraving with half the width of its widest stick, px:
    one factor serves all of them.
    """
    marks = [mark for row in rows for mark in row.marks]
    lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
    audible = audible_ms(interval_ms)
    centre = _centre(lates, audible)
    far = quantile([abs(late - centre) for late in lates], KEPT_INSIDE)
    factor = min(_factor(columns, far, audible, lean_px) for columns, lean_px in rooms)
    low, high, middle = _levels([mark.level_db for mark in marks])
    return Scale(factor, centre, audible, low, high, middle)


def middle_level_db(heard: Heard) -> float:
    """Return the take's middle: the level that half of its notes' hits lie above, dB.

    Every level that is shown as a difference, in the terminal as on the page, is told against it.
    """
    levels = [hit.level_db for hit in heard.hits if not hit.grace]
    return median(levels) if levels else NO_LEVEL_DB


def quantile(values: Sequence[float], share: float) -> float:
    """Return the value that this share of them lies at or below; 0 of nothing."""
    if not values:
        return 0.0
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, math.ceil(share * len(ranked)) - 1 if share > 0 else 0)]


def _centre(lates: Sequence[float], audible: float) -> float:
    """Return 0, or the take's middle where the whole take lies off the clock."""
    middle = median(lates) if lates else 0.0
    return float(round(middle)) if abs(middle) > 1.5 * audible else 0.0


def _factor(columns: Columns, far_ms: float, audible: float, lean_px: float) -> float:
    room = max(1.0, columns.half_px - min(lean_px, columns.half_px / 2) - EDGE_PX)
    most = min(room / max(far_ms, 1e-6), BAND_SHARE * columns.half_px / audible)
    fitting = [factor for factor in FACTORS if factor * columns.music_px_per_ms <= most]
    return fitting[-1] if fitting else FACTORS[0]


def _levels(levels: Sequence[float]) -> tuple[float, float, float]:
    if not levels:
        return NO_LEVEL_DB - 5.0, NO_LEVEL_DB + 5.0, NO_LEVEL_DB
    low, high = quantile(levels, 0.03), quantile(levels, 0.97)
    spare = max(0.0, LEAST_RANGE_DB - (high - low)) / 2
    return low - spare, high + spare, median(levels)


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

    def drawn(self) -> str:
        """Return one path element for each look."""
        return "".join(
            el("path", class_=class_, stroke_width=f"{width:.2f}" if width else None, d="".join(data))
            for (class_, width), data in self.paths.items()
        )


HAND_CLASS: Mapping[Hand, str] = {"R": "r", "L": "l"}


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


def cross_path(x: float, y: float, arm: float) -> str:
    """Return a small cross."""
    d, top = px(2 * arm), px(y - arm)
    return f"M{px(x - arm)} {top}l{d} {d}M{px(x + arm)} {top}l-{d} {d}"


def dot_path(x: float, y: float) -> str:
    """Return a point; its line width and round ends make it a dot."""
    return f"M{px(x)} {px(y)}h0"
