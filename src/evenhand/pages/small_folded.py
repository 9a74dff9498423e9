"""A take in small: the folded picture without its music, for a line of the desk.

Conventions: px, y downwards; ms, negative = early; a column is a written note, a row one time
through. As in the large picture a stick leans as its hand does, stands left where it came early
and right where late, and is the longer and heavier the louder; the pale band is what an ear
can't tell. A ring is a note that was not heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.domain.exercise import Hand
from evenhand.pages.markup import el, px
from evenhand.pages.sticks import WEIGHTS, Ink, Stroke, place, ring_path, stick_path

WIDTH_PX, HEIGHT_PX = 112.0, 44.0
MOST_COLUMNS, MOST_ROWS = 16, 6
BAND_SHARE = 0.4  # of half a column: what the audible band takes
KEPT_INSIDE = 0.9  # share of the hits that stand where they came; the others stand at the edge


@dataclass(frozen=True, slots=True)
class SmallHit:
    """One hit: its column, how late it came, and how loud it is from 0 (soft) to 1."""

    column: int
    late_ms: float
    strength: float


@dataclass(frozen=True, slots=True)
class SmallRow:
    """One time through: its hits, and the columns whose note was not heard."""

    hits: tuple[SmallHit, ...]
    missed: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SmallTake:
    """What is drawn of a take: a hand for each column, and its newest rows."""

    hands: tuple[Hand, ...]
    rows: tuple[SmallRow, ...]
    audible_ms: float


def small_folded(take: SmallTake) -> str:
    """Draw a take in small, as SVG; its twin in words are the findings beside it."""
    width = WIDTH_PX / max(len(take.hands), 1)
    height = HEIGHT_PX / max(len(take.rows), 1)
    ink = Ink()
    for number, row in enumerate(take.rows):
        _row(ink, take, row, (number + 0.5) * height, width / 2)
    return el(
        "svg",
        el("path", class_="band", d=_bands(take, width)),
        ink.drawn(),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {px(WIDTH_PX)} {px(HEIGHT_PX)}",
        width=px(WIDTH_PX),
        height=px(HEIGHT_PX),
        aria_hidden="true",
        class_="small-folded",
    )


def px_per_ms(take: SmallTake, half_px: float) -> float:
    """Return how far a ms is drawn: the band keeps its share of a column, unless hits lie far beyond."""
    lates = sorted(abs(hit.late_ms) for row in take.rows for hit in row.hits)
    far_ms = lates[min(int(KEPT_INSIDE * len(lates)), len(lates) - 1)] if lates else 0.0
    return min(BAND_SHARE * half_px / take.audible_ms, half_px / max(far_ms, 1e-6))


def _row(ink: Ink, take: SmallTake, row: SmallRow, y: float, half_px: float) -> None:
    """Put one time through on its line."""
    pitch = HEIGHT_PX / max(len(take.rows), 1)
    stroke = Stroke.for_rows(min(pitch, 11.0), max(half_px, 4.0))
    scale = px_per_ms(take, half_px)
    for hit in row.hits:
        hand = take.hands[hit.column]
        half_x, half_y = stroke.half_extent(hit.strength)
        middle = (2 * hit.column + 1) * half_px
        x, _ = place(middle, hit.late_ms * scale, room_px=half_px + 4, half_x=half_x)
        weight = stroke.weight_px(round(hit.strength * (WEIGHTS - 1)))
        ink.add(hand.lower(), weight, stick_path(x, y, half_x, half_y, hand))
    for column in row.missed:
        ink.add("ring", 0.9, ring_path((2 * column + 1) * half_px, y, 2.2))


def _bands(take: SmallTake, width: float) -> str:
    """Draw the band behind each column as one path."""
    half = max(px_per_ms(take, width / 2) * take.audible_ms, 0.8)
    middles: Sequence[float] = [(number + 0.5) * width for number in range(len(take.hands))]
    return "".join(f"M{px(x - half)} 0h{px(2 * half)}v{px(HEIGHT_PX)}h-{px(2 * half)}z" for x in middles)
