"""One layout of the folded picture, for a desk or for a phone: where columns and rows lie.

Conventions: px of the drawing's own units; x from the left edge of the whole block,
y from the top of the rows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import Columns, Scale, Stroke, columns_of
from evenhand.report.plots.markup import room_px
from evenhand.report.take.rows import Row

FULL_ROWS = 24  # up to so many repetitions have full height
MOST_ROWS = 60  # up to so many are thinner; beyond that they fold into densities
MOST_FOLDS = 12
LEAST_LABEL_PX, LABEL_SIZE_PX = 24.0, 11.0
MISSED = "missed"  # what stands before the counts of missed notes
RIGHT_PX = 4.0


@dataclass(frozen=True, slots=True)
class Look:
    """The sizes of one layout. ``key`` opens its ids."""

    key: str
    stretch: float  # how much wider than drawn it may be shown
    few_px: float  # a row's height where there are few
    full_px: float
    fold_px: float
    gap_px: float
    strip_px: float


DESK = Look("desk", 1.3, few_px=22.0, full_px=18.0, fold_px=30.0, gap_px=20.0, strip_px=44.0)
PHONE = Look("phone", 1.45, few_px=17.0, full_px=14.0, fold_px=26.0, gap_px=18.0, strip_px=36.0)


@dataclass(frozen=True, slots=True)
class Sheet:
    """An engraving with the room around it and the scale that its columns are drawn to."""

    look: Look
    engraved: EngravedExercise
    columns: Columns
    pitch_px: float
    stroke: Stroke
    gutter_px: float
    width_px: float
    px_per_ms: float = 1.0

    def scaled(self, scale: Scale) -> Sheet:
        """Return the sheet with the scale's magnification."""
        return replace(self, px_per_ms=scale.factor * self.columns.music_px_per_ms)

    def xs(self, line: EngravedLine) -> dict[int, float]:
        """Where each of a line's positions has its column."""
        return {note.position: note.x + self.gutter_px for note in line.notes}

    def label_x(self, line: EngravedLine) -> float:
        """Where row numbers end: a little left of the first column."""
        first = line.notes[0].x if line.notes else 0.0
        return self.gutter_px + first - self.columns.half_px - 4


def sheet_of(
    look: Look, engraved: EngravedExercise, exercise: Exercise, interval_ms: float, rows: Sequence[Row]
) -> Sheet:
    """Lay out an engraving for so many rows."""
    columns = columns_of(engraved, exercise, interval_ms)
    pitch = row_height(look, len(rows))
    first = min((line.notes[0].x for line in engraved.lines if line.notes), default=0.0)
    labels = [label for label, _ in _groups(rows)] + [MISSED] * any(row.missed for row in rows)
    label_px = max([LEAST_LABEL_PX, *(6 + room_px(label, LABEL_SIZE_PX) for label in labels)])
    gutter = max(0.0, columns.half_px + label_px - first)
    width = gutter + max((line.width for line in engraved.lines), default=0.0) + RIGHT_PX
    return Sheet(look, engraved, columns, pitch, Stroke.for_rows(pitch, columns.half_px), gutter, width)


def row_height(look: Look, count: int) -> float:
    """Return a row's height: full to 24 rows, thinner to 60, then that of a fold."""
    if count <= FULL_ROWS // 2:
        return look.few_px
    if count <= FULL_ROWS:
        return look.full_px
    if count <= MOST_ROWS:
        return max(FULL_ROWS * look.full_px / count, look.full_px * FULL_ROWS / MOST_ROWS)
    return look.fold_px


@dataclass(frozen=True, slots=True)
class Band:
    """A strip of rows drawn as one: a single repetition, or a fold of many."""

    label: str
    rows: tuple[Row, ...]
    y: float
    gap: str | None
    gap_y: float


def bands_of(sheet: Sheet, rows: Sequence[Row]) -> tuple[Band, ...]:
    """Stack the rows, with room for the words of each gap."""
    out: list[Band] = []
    y = 0.0
    for label, group in _groups(rows):
        gap = group[0].gap if out else None
        if gap:
            y += sheet.look.gap_px
        gap_y = y - sheet.look.gap_px / 2
        out.append(Band(label, tuple(group), y + sheet.pitch_px / 2, gap, gap_y))
        y += sheet.pitch_px
    return tuple(out)


def bands_height(sheet: Sheet, bands: Sequence[Band]) -> float:
    """Return the height of all the rows with their gaps."""
    return bands[-1].y + sheet.pitch_px / 2 if bands else 0.0


def _groups(rows: Sequence[Row]) -> list[tuple[str, Sequence[Row]]]:
    if len(rows) <= MOST_ROWS:
        return [(_row_label(rows, i), (row,)) for i, row in enumerate(rows)]
    size = math.ceil(len(rows) / MOST_FOLDS)
    cuts = [i for i, row in enumerate(rows) if row.gap]
    starts = {0, *(cuts if len(cuts) <= MOST_FOLDS // 2 else ())}
    edges = [*sorted(starts), len(rows)]
    groups = [rows[i : min(i + size, end)] for begin, end in pairwise(edges) for i in range(begin, end, size)]
    return [(_fold_label(group), group) for group in groups]


def _row_label(rows: Sequence[Row], index: int) -> str:
    """Return a row's number; a repetition's second row, after a stop, has none of its own."""
    number = rows[index].repetition
    if index and rows[index - 1].repetition == number:
        return ""
    if len(rows) > FULL_ROWS and number % 5 and index:
        return ""
    return str(number)


def _fold_label(rows: Sequence[Row]) -> str:
    first, last = rows[0].repetition, rows[-1].repetition
    return str(first) if first == last else f"{first}–{last}"
