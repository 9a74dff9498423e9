"""Where each note stands: lines of music and columns in proportion to written time.

Conventions: a *column* is the room of the exercise's shortest note; ``column_px`` is
its width in px-like units. A note's centre is ``x`` from the line's left edge. The
same time after the start of a line stands at the same x in every line.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import ceil
from typing import Literal

from evenhand.music.engraving.notation import EIGHTH, bars_of, beat_of, falls_on, shapes_of
from evenhand.music.exercise import Exercise, Note

Spacing = Literal["time", "note"]

MIN_COLUMN_PX = 34.0  # with room for a chart's sticks under each note
MIN_PRINTED_UNITS = 350.0  # where only letters stand there
MAX_COLUMN_PX = 64.0
COLUMNS_A_LINE = 16
MOST_COLUMNS_A_LINE = 24  # where that keeps a bar whole
WIDEST_NOTE = 8.0  # columns; a longer note is given no more
FLAM_UNITS = 262.0  # from a single grace's head to the main head, centre to centre, engraver's units
DRAG_UNITS = 240.0  # the same for the last of several, and between them
HEADS_UNITS = 106.0 + 80.0  # half a head and half a grace's
HEADS_GAP_PX = 3.0
HEADS_GAP_UNITS = 50.0  # no less than the px above
DOT_UNITS = 415.0  # from a flagged note's middle to behind its dot, which stands clear of the flag
END_PX = 3.0  # the closing bar line before the next column, and the margin behind it


@dataclass(frozen=True, slots=True)
class LineColumns:
    """The lines' first positions, each note's x, each line's end bar line, and the width."""

    cuts: tuple[int, ...]
    x: tuple[float, ...]
    ends_x: tuple[float, ...]
    width: float


def columns_of(
    exercise: Exercise,
    *,
    width: float,
    scale: float,
    left_px: float,
    right_px: float = 0.0,
    close_px: float = 0.0,
    least_px: float = MIN_COLUMN_PX,
    spacing: Spacing = "time",
) -> LineColumns:
    """Break an exercise into lines and place its notes.

    Parameters
    ----------
    exercise : Exercise
        With at least one note, all values above 0.
    width : float
        Room for a line, px. A line takes less where its notes need less, and more
        only where a single note does not fit.
    scale : float
        Px an engraver's unit, for the graces' room.
    left_px : float
        Where the first note of a line stands, px: clef and meter are left of it.
    right_px : float
        Room to keep free behind the last bar line, px.
    close_px : float
        Least room from the last note's centre to the last bar line, px: for its sign.
    least_px : float
        Narrowest column, px.
    spacing : "time" or "note"
        In proportion to written time, or with long notes drawn in (their square root) and
        more room only where graces stand.
    """
    rooms = _rooms(exercise, spacing)
    if spacing == "note":
        rooms = _with_graces(exercise, rooms, scale / least_px)
    least = _least_column(exercise, rooms, scale, least_px)
    dots = [DOT_UNITS * scale if note.value.numerator in {3, 7} else 0.0 for note in exercise.notes]
    behind = max(dot + END_PX - least * own for dot, own in zip(dots, rooms, strict=True))
    over = max(close_px + END_PX - least * rooms[-1], behind, 0.0)
    room = max(width - left_px - right_px - over, least)
    cuts = _cuts(exercise, rooms, room / least)
    edges = (*cuts, len(rooms))
    lines = [sum(rooms[first:stop]) for first, stop in pairwise(edges)]
    column_px = max(least, min(MAX_COLUMN_PX, room / max(lines)))
    x: list[float] = []
    for first, stop in pairwise(edges):
        ahead = accumulate(rooms[first : stop - 1], initial=0.0)
        x += [left_px + column_px * columns for columns in ahead]
    ends = [left_px + column_px * line - END_PX for line in lines]
    ends = [max(end, x[stop - 1] + dots[stop - 1]) for end, stop in zip(ends, edges[1:], strict=True)]
    ends[-1] = max(ends[-1], x[-1] + close_px)
    return LineColumns(cuts, tuple(x), tuple(ends), round(max(*ends, ends[-1] + right_px) + END_PX, 2))


def _rooms(exercise: Exercise, spacing: Spacing) -> list[float]:
    """Give each note its columns: 1 for the shortest value."""
    shortest = min(note.value for note in exercise.notes)
    power = 1.0 if spacing == "time" else 0.5
    return [min(float(note.value / shortest) ** power, WIDEST_NOTE) for note in exercise.notes]


def graces_back(graces: int) -> tuple[float, ...]:
    """Return how far each of a note's graces stands before its head, engraver's units."""
    if graces < 2:
        return (FLAM_UNITS,) * graces
    return tuple(DRAG_UNITS * k for k in range(graces, 0, -1))


def _graces_units(following: Note) -> float:
    """Return the room between a note's middle and the next's that the next's graces need."""
    back = max(graces_back(len(following.graces)), default=0.0)
    return back + HEADS_UNITS


def _with_graces(exercise: Exercise, rooms: list[float], column: float) -> list[float]:
    """Make room before graces, and only there; ``column`` is columns an engraver's unit."""
    pairs = zip(rooms, exercise.notes[1:], strict=False)
    gap = HEADS_GAP_UNITS
    wide = [max(room, (_graces_units(note) + gap) * column) if note.graces else room for room, note in pairs]
    return [*wide, rooms[-1]]


def _least_column(exercise: Exercise, rooms: list[float], scale: float, least_px: float) -> float:
    """Find the narrowest column that keeps heads and graces apart, px."""
    least = least_px
    for room, following in zip(rooms, exercise.notes[1:], strict=False):
        least = max(least, (_graces_units(following) * scale + HEADS_GAP_PX) / room)
    return least


def _cuts(exercise: Exercise, rooms: list[float], fitting: float) -> tuple[int, ...]:
    """Choose the positions that open a line: at bars if they fit, else at halves, beats, notes."""
    before = [0.0, *accumulate(rooms)]
    most = max(min(fitting, _longest_wanted(exercise, before)), *rooms)
    if before[-1] <= most + 1e-6:
        return (0,)
    ranks = _ranks(exercise)
    cuts, at = [0], 0
    while before[-1] - before[at] > most + 1e-6:
        at = _next_cut(at, before, ranks, most)
        cuts.append(at)
    return tuple(cuts)


def _longest_wanted(exercise: Exercise, before: list[float]) -> float:
    """Return how many columns a line should hold: sixteen, or a bar of up to twenty-four."""
    bars = (*bars_of(exercise), len(exercise.notes))
    if len(bars) == 2 and exercise.meter is None:
        return float(COLUMNS_A_LINE)
    longest = max(before[stop] - before[first] for first, stop in pairwise(bars))
    if COLUMNS_A_LINE < longest <= MOST_COLUMNS_A_LINE:
        return longest
    return float(COLUMNS_A_LINE)


def _next_cut(at: int, before: list[float], ranks: list[int], most: float) -> int:
    """Return the best place to break: of the highest rank, nearest to equal lines."""
    furthest = max(bisect_left(before, before[at] + most + 1e-6, lo=at + 1) - 1, at + 1)
    half = before[at] + most / 2 - 1e-6
    candidates = [cut for cut in range(at + 1, furthest + 1) if before[cut] >= half] or [furthest]
    left = before[-1] - before[at]
    equal = before[at] + left / ceil(left / most - 1e-6)
    return max(candidates, key=lambda cut: (ranks[cut], -round(abs(before[cut] - equal), 6), cut))


def _ranks(exercise: Exercise) -> list[int]:
    """Rank each position as a place to open a line: bar 4, half bar 3, beat 2, eighth 1, note 0."""
    beat = beat_of(exercise.meter)
    bars = bars_of(exercise)
    ranks = [0] * (len(exercise.notes) + 1)
    ranks[-1] = 4
    halves = _half_test(exercise, beat)
    for index, first in enumerate(bars):
        stop = bars[index + 1] if index + 1 < len(bars) else len(exercise.notes)
        for at in range(first, stop):
            offset = exercise.starts[at] - exercise.starts[first]
            if at == first:
                ranks[at] = 4
            elif halves(offset):
                ranks[at] = 3
            else:
                ranks[at] = 2 if falls_on(offset, beat) else 1 if falls_on(offset, EIGHTH) else 0
    return ranks


def _half_test(exercise: Exercise, beat: Fraction) -> Callable[[Fraction], bool]:
    """Make a test for the middle of a bar (without a meter: for whole multiples of two beats)."""
    half = exercise.meter.bar / 2 if exercise.meter else beat * 2
    even = falls_on(half, beat)
    return lambda offset: even and falls_on(offset, half)


@dataclass(frozen=True)
class Placing:
    """Where every note of an exercise stands, with its graces and the rests that fill it up."""

    exercise: Exercise
    columns: LineColumns
    scale: float

    def grace_x(self, position: int) -> tuple[float, ...]:
        """Return where a note's graces stand, px, in order."""
        back = graces_back(len(self.exercise.notes[position].graces))
        return tuple(self.columns.x[position] - units * self.scale for units in back)

    def left_over_x(self, position: int) -> tuple[float, ...]:
        """Return where the rests stand that fill up a note, by their share of its column."""
        lengths = [shape.length for shape in shapes_of(self.exercise.notes[position].value)]
        x, room = self.columns.x[position], self.next_x(position) - self.columns.x[position]
        return tuple(x + room * float(before / sum(lengths)) for before in accumulate(lengths[:-1]))

    def next_x(self, position: int) -> float:
        """Return where the column after a note begins, px: the next note or the line's end."""
        following = position + 1
        if following < len(self.columns.x) and self.line_of(following) == self.line_of(position):
            return self.columns.x[following]
        return self.columns.ends_x[self.line_of(position)]

    def line_of(self, position: int) -> int:
        """Return the line a note stands on, from 0."""
        return bisect_right(self.columns.cuts, position) - 1
