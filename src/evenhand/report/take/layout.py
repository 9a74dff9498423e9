"""One layout of the folded picture, for a desk or for a phone: its scale, and where columns and rows lie.

Conventions: px of the drawing's own units; x from the left edge of the whole block, y from the top of the
rows; ms, negative = early; dB. "Factor" is how many times wider time is drawn in a column than the music
above draws it: one magnification for the whole picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from evenhand.measuring.values import HeardTake, audible_ms
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import EDGE_PX, NO_LEVEL_DB, Stroke
from evenhand.report.plots.markup import room_px
from evenhand.report.take.rows import Mark, Row, plain_axis, rows_of

FACTORS = (0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)
WIDEST_HALF_PX = 34.0
LEAST_HALF_PX = 5.0
KEPT_INSIDE = 0.97  # share of the hits that the magnification must leave inside their columns
BAND_SHARE = 0.36  # the audible band is at most this share of its column
PLAIN_WIDE_PX, PLAIN_NARROW_PX = 1000.0, 320.0
LEAST_RANGE_DB = 10.0  # an even take's sticks shall not look uneven
FULL_ROWS = 24  # up to so many repetitions have full height
MOST_ROWS = 60  # up to so many are thinner; beyond that they fold into densities
MOST_FOLDS = 12
LEAST_LABEL_PX, LABEL_SIZE_PX = 24.0, 11.0
MISSED = "missed"  # what stands before the counts of missed notes
RIGHT_PX = 4.0


@dataclass(frozen=True, slots=True)
class ColumnRoom:
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
    step = take.exercise.usual_step if take.exercise.struck else 0.25
    return step * take.tempo.whole_note_s * 1000


def column_room(engraved: EngravedExercise, exercise: Exercise, interval_ms: float) -> ColumnRoom:
    """Measure the columns that an engraving's struck notes leave."""
    struck = set(exercise.struck)
    steps = [
        b.x - a.x
        for line in engraved.lines
        for a, b in pairwise(note for note in line.notes if note.position in struck)
    ]
    steps = [step for step in steps if step > 0] or [2 * WIDEST_HALF_PX]
    half = max(LEAST_HALF_PX, min(min(steps) / 2, WIDEST_HALF_PX))
    return ColumnRoom(half, median(steps) / interval_ms)


def scale_of(rows: Sequence[Row], rooms: Sequence[tuple[ColumnRoom, Stroke]], interval_ms: float) -> Scale:
    """Choose the largest round magnification that keeps the hits inside their columns in every layout."""
    marks = [mark for row in rows for mark in row.marks]
    plain = scale_of_marks(marks, audible_ms(interval_ms))
    far = quantile(
        [abs(mark.late_ms - plain.centre_ms) for mark in marks if mark.late_ms is not None], KEPT_INSIDE
    )
    factor = min(_factor(columns, far, plain.audible_ms, stroke.lean_px) for columns, stroke in rooms)
    return replace(plain, factor=factor)


def scale_of_marks(marks: Sequence[Mark], audible: float) -> Scale:
    """Choose what stands in the middle and the range of levels; nothing is magnified yet."""
    lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
    levels = [mark.level_db for mark in marks]
    middle_db = median(levels) if levels else NO_LEVEL_DB
    return Scale(1.0, centre_of(lates, audible), audible, *level_range(levels), middle_db)


def quantile(values: Sequence[float], share: float) -> float:
    """Return the value that this share of them lies at or below; 0 of nothing."""
    if not values:
        return 0.0
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, math.ceil(share * len(ranked)) - 1 if share > 0 else 0)]


def centre_of(lates: Sequence[float], audible: float) -> float:
    """Return 0, or the take's middle where the whole take lies off the clock."""
    middle = median(lates) if lates else 0.0
    return float(round(middle)) if abs(middle) > 1.5 * audible else 0.0


def _factor(columns: ColumnRoom, far_ms: float, audible: float, lean_px: float) -> float:
    room = max(1.0, columns.half_px - min(lean_px, columns.half_px / 2) - EDGE_PX)
    most = min(room / max(far_ms, 1e-6), BAND_SHARE * columns.half_px / audible)
    fitting = [factor for factor in FACTORS if factor * columns.music_px_per_ms <= most]
    return fitting[-1] if fitting else FACTORS[0]


def level_range(levels: Sequence[float]) -> tuple[float, float]:
    """Return the quietest and the loudest level that are told apart in a picture, dB."""
    if not levels:
        return NO_LEVEL_DB - LEAST_RANGE_DB / 2, NO_LEVEL_DB + LEAST_RANGE_DB / 2
    low, high = quantile(levels, 0.03), quantile(levels, 0.97)
    spare = max(0.0, LEAST_RANGE_DB - (high - low)) / 2
    return low - spare, high + spare


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
class Layout:
    """An engraving with the room around it and the scale that its columns are drawn to."""

    look: Look
    engraved: EngravedExercise
    columns: ColumnRoom
    pitch_px: float
    stroke: Stroke
    gutter_px: float
    width_px: float
    scale: Scale

    @property
    def half_px(self) -> float:
        """Half a column."""
        return self.columns.half_px

    @property
    def px_per_ms(self) -> float:
        """How far a ms is drawn."""
        return self.scale.factor * self.columns.music_px_per_ms

    def offset_px(self, late_ms: float | None) -> float:
        """Return how far from the middle of its column a hit is drawn; 0 where nothing is known."""
        return 0.0 if late_ms is None else (late_ms - self.scale.centre_ms) * self.px_per_ms

    def xs(self, line: EngravedLine) -> dict[int, float]:
        """Where each of a line's positions has its column."""
        return {note.position: note.x + self.gutter_px for note in line.notes}

    def label_x(self, line: EngravedLine) -> float:
        """Where row numbers end: a little left of the first column."""
        first = line.notes[0].x if line.notes else 0.0
        return self.gutter_px + first - self.columns.half_px - 4


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A take laid out for a desk and for a phone, to one scale."""

    exercise: Exercise
    rows: tuple[Row, ...]
    scale: Scale
    desk: Layout
    phone: Layout


def lay_out(
    take: HeardTake, wide: EngravedExercise | None, narrow: EngravedExercise | None
) -> LaidOut | None:
    """Lay a take out; None where nothing stands on a note. Where no engraving is given, plain heads do."""
    exercise = take.exercise
    rows = rows_of(take.heard, exercise) if exercise is not None else ()
    if exercise is None or not rows:
        return None
    return lay_out_rows(rows, exercise, interval_of(take), wide, narrow)


def lay_out_rows(
    rows: tuple[Row, ...],
    exercise: Exercise,
    interval: float,
    wide: EngravedExercise | None,
    narrow: EngravedExercise | None,
) -> LaidOut:
    """Lay rows out, at least one, whose notes are ``interval`` ms apart."""
    engravings = (
        (DESK, wide or plain_axis(exercise, PLAIN_WIDE_PX)),
        (PHONE, narrow or plain_axis(exercise, PLAIN_NARROW_PX)),
    )
    rooms = []
    for look, engraved in engravings:
        columns = column_room(engraved, exercise, interval)
        rooms.append((columns, Stroke.for_rows(row_height(look, len(rows)), columns.half_px)))
    scale = scale_of(rows, rooms, interval)
    desk, phone = (
        _layout(look, engraved, *room, rows, scale)
        for (look, engraved), room in zip(engravings, rooms, strict=True)
    )
    return LaidOut(exercise, rows, scale, desk, phone)


def _layout(
    look: Look,
    engraved: EngravedExercise,
    columns: ColumnRoom,
    stroke: Stroke,
    rows: Sequence[Row],
    scale: Scale,
) -> Layout:
    first = min((line.notes[0].x for line in engraved.lines if line.notes), default=0.0)
    labels = [label for label, _ in _groups(rows)] + [MISSED] * any(row.missed for row in rows)
    label_px = max([LEAST_LABEL_PX, *(6 + room_px(label, LABEL_SIZE_PX) for label in labels)])
    gutter = max(0.0, columns.half_px + label_px - first)
    width = gutter + max((line.width for line in engraved.lines), default=0.0) + RIGHT_PX
    return Layout(look, engraved, columns, row_height(look, len(rows)), stroke, gutter, width, scale)


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


def bands_of(layout: Layout, rows: Sequence[Row]) -> tuple[Band, ...]:
    """Stack the rows, with room for the words of each gap."""
    out: list[Band] = []
    y = 0.0
    for label, group in _groups(rows):
        gap = group[0].gap if out else None
        if gap:
            y += layout.look.gap_px
        gap_y = y - layout.look.gap_px / 2
        out.append(Band(label, tuple(group), y + layout.pitch_px / 2, gap, gap_y))
        y += layout.pitch_px
    return tuple(out)


def bands_height(layout: Layout, bands: Sequence[Band]) -> float:
    """Return the height of all the rows with their gaps."""
    return bands[-1].y + layout.pitch_px / 2 if bands else 0.0


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
    label = rows[index].label
    if label is not None:
        return label
    number = rows[index].repetition
    if index and rows[index - 1].repetition == number and rows[index - 1].label is None:
        return ""
    if len(rows) > FULL_ROWS and number % 5 and index:
        return ""
    return str(number)


def _fold_label(rows: Sequence[Row]) -> str:
    first, last = rows[0].repetition, rows[-1].repetition
    return str(first) if first == last else f"{first}–{last}"
