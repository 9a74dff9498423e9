"""Where each piece stands: lines of music, and columns in proportion to written time.

Conventions: a *column* is the room of the shortest note; widths are px-like units. A note's centre is ``x``
from the line's left edge. By "time" the same time after the start of a line stands at the same x in every
line, for charts; by "note" long notes are drawn in (their square root), each line is as wide as the page but
the last, and neighbours get more room only where their ink needs it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate, pairwise
from math import ceil
from statistics import median_high
from typing import Literal

from evenhand.music.engraving.extents import BRACKET_UNITS, Extents, graces_back
from evenhand.music.engraving.notation import EIGHTH, bars_of, beat_of, falls_on, meter_at
from evenhand.music.exercise import Exercise

Spacing = Literal["time", "note"]

MIN_COLUMN_PX = 34.0  # with room for a chart's sticks under each note
MIN_PRINTED_UNITS = 350.0  # where only letters stand there
MAX_COLUMN_PX = 64.0
COLUMNS_A_LINE = 16
MOST_COLUMNS_A_LINE = 24  # where that keeps a bar whole
WIDEST_NOTE = 8.0  # columns; a longer note is given no more
END_PX = 2.0  # behind the closing bar line
NEVER = -2  # the rank of a place where no line begins
FEW = 0.5  # of all notes: so few short ones may stand closer where that keeps bars whole


@dataclass(frozen=True, slots=True)
class LineColumns:
    """The lines' first positions, each note's x, each line's end bar line, and the width."""

    cuts: tuple[int, ...]
    x: tuple[float, ...]
    ends_x: tuple[float, ...]
    width: float


@dataclass(frozen=True, slots=True)
class Page:
    """The room there is for a line, px; ``scale`` is px an engraver's unit.

    Left of ``left_px`` stand clef and meter, behind the last bar line ``right_px`` stay free. A column is
    ``least_px`` wide or more. Lines that open
    at the positions of ``lefts_px`` may begin there.
    """

    width: float
    scale: float
    left_px: float
    right_px: float = 0.0
    least_px: float = MIN_COLUMN_PX
    lefts_px: Mapping[int, float] = field(default_factory=dict)

    @property
    def line_px(self) -> float:
        """From a line's first note to its last bar line."""
        return self.from_px(self.left_px)

    def from_px(self, left: float) -> float:
        """From a first note that stands there to the last bar line."""
        return max(self.width - left - self.right_px - END_PX, self.least_px)


def columns_of(extents: Extents, page: Page, spacing: Spacing = "time") -> LineColumns:
    """Break an exercise into lines and place its notes.

    A line takes more than the page's width only where a single note does not fit.
    """
    if spacing == "note":
        return _by_note(extents, page)
    return _by_time(extents, page)


def _by_time(extents: Extents, page: Page) -> LineColumns:
    """Give every column the same width, in all lines."""
    exercise, scale = extents.exercise, page.scale
    rooms = _rooms(exercise, extents.inner)
    ink = max([need * scale / room for need, room in zip(extents.needs, rooms, strict=False)], default=0.0)
    tight = max(_closest_px(extents, rooms, page), ink)
    least = max(min(page.least_px, tight), ink)

    def over(stops: Sequence[int]) -> float:
        """Return how much more than its column the last note of a line needs."""
        return max(
            [extents.end_units(stop) * scale + END_PX - least * rooms[stop - 1] for stop in stops] + [0.0]
        )

    line_px = page.line_px + END_PX  # the last column holds it
    room = max(line_px - over([len(rooms)]), least)
    cuts = _cuts(extents, rooms, min(room / least, _longest_wanted(exercise, rooms, room / least)))
    edges = (*cuts, len(rooms))
    room = max(line_px - over(edges[1:]), least)
    lines = [sum(rooms[first:stop]) for first, stop in pairwise(edges)]
    column = max(least, min(MAX_COLUMN_PX, room / max(lines)))
    x: list[float] = []
    ends: list[float] = []
    for first, stop in pairwise(edges):
        x += [page.left_px + column * ahead for ahead in accumulate(rooms[first : stop - 1], initial=0.0)]
        needed = extents.end_units(stop) * scale
        ends.append(max(x[-1] + column * rooms[stop - 1] - END_PX, x[-1] + needed))
    return LineColumns(cuts, tuple(x), tuple(ends), round(max(ends) + page.right_px + END_PX, 2))


def _closest_px(extents: Extents, rooms: list[float], page: Page) -> float:
    """Return how wide a column may be for the longest bar to fit, where few notes are the shortest."""
    exercise = extents.exercise
    values = [note.value for note in exercise.notes if not note.held]
    usual, shortest = median_high(values), min(values)
    if usual == shortest or sum(value < usual for value in values) > FEW * len(values):
        return page.least_px
    bars = (*bars_of(exercise), len(rooms))
    return page.line_px / max(sum(rooms[first:stop]) for first, stop in pairwise(bars))


def _by_note(extents: Extents, page: Page) -> LineColumns:
    """Space each line by itself: as wide as the page, the last no wider apart than the others."""
    exercise, scale = extents.exercise, page.scale
    values = [note.value for note in exercise.notes]
    usual = median_high([note.value for note in exercise.notes if not note.held])
    shares = [min(float(value / usual) ** 0.5, WIDEST_NOTE**0.5) for value in values]
    needs = [*extents.needs, 0.0]
    rooms = [max(page.least_px * share, need * scale) for share, need in zip(shares, needs, strict=True)]
    ends = [extents.end_units(stop) * scale for stop in range(1, len(rooms) + 1)]
    cuts = _cuts(extents, rooms, page.line_px - max(0.0, ends[-1] - rooms[-1]))
    edges = (*cuts, len(rooms))
    stretches: list[float] = []
    lefts = [page.lefts_px.get(cut, page.left_px) for cut in cuts]
    for stop in edges[1:]:  # what would stand before the next line's first piece is not there
        rooms[stop - 1] = page.least_px * shares[stop - 1]
    for (first, stop), left in zip(pairwise(edges), lefts, strict=True):
        full = _stretch(rooms[first:stop], ends[stop - 1], page.from_px(left))
        if stop == len(rooms):
            usual_stretch = sum(stretches) / len(stretches) if stretches else MAX_COLUMN_PX / page.least_px
            full = max(min(full, usual_stretch), min(1.0, full))
        stretches.append(full)
    x: list[float] = []
    ends_x: list[float] = []
    for (first, stop), stretch, left in zip(pairwise(edges), stretches, lefts, strict=True):
        x += [left + stretch * ahead for ahead in accumulate(rooms[first : stop - 1], initial=0.0)]
        ends_x.append(x[-1] + max(stretch * rooms[stop - 1], ends[stop - 1]))
    return LineColumns(cuts, tuple(x), tuple(ends_x), round(max(ends_x) + page.right_px + END_PX, 2))


def _stretch(rooms: list[float], end: float, line_px: float) -> float:
    """Return by what a line's rooms are multiplied to fill it; its last holds what ends the line."""
    whole = sum(rooms)
    stretch = line_px / whole
    if stretch * rooms[-1] < end and len(rooms) > 1:
        stretch = (line_px - end) / (whole - rooms[-1])
    return max(stretch, 1.0)


def _rooms(exercise: Exercise, inner: frozenset[int]) -> list[float]:
    """Return each piece's room in columns of the shortest value; a note's together are no more than a few."""
    shortest = min(note.value for note in exercise.notes if not note.held)
    rooms = [float(note.value / shortest) for note in exercise.notes]
    opens = [at for at in range(len(rooms)) if at not in inner]
    for first, stop in pairwise([*opens, len(rooms)]):
        share = min(WIDEST_NOTE / sum(rooms[first:stop]), 1.0)
        rooms[first:stop] = [share * room for room in rooms[first:stop]]
    return rooms


def _cuts(extents: Extents, rooms: list[float], fitting: float) -> tuple[int, ...]:
    """Choose the positions that open a line: at bars if they fit, else at halves, beats, notes."""
    before = [0.0, *accumulate(rooms)]
    most = max(fitting, *rooms)
    if before[-1] <= most + 1e-6:
        return (0,)
    ranks = _ranks(extents.exercise, extents.inner)
    cuts, at = [0], 0
    while before[-1] - before[at] > most + 1e-6:
        at = _next_cut(at, before, ranks, most)
        if at == len(rooms):
            break
        cuts.append(at)
    return tuple(cuts)


def _longest_wanted(exercise: Exercise, rooms: list[float], fitting: float) -> float:
    """Return how many columns a line should hold: sixteen, or a bar of up to twenty-four, or any that fits.

    A longer bar is kept whole where most of its notes are longer than a column.
    """
    before = [0.0, *accumulate(rooms)]
    bars = (*bars_of(exercise), len(exercise.notes))
    if len(bars) == 2 and exercise.meter is None:
        return float(COLUMNS_A_LINE)
    longest = max(before[stop] - before[first] for first, stop in pairwise(bars))
    mixed = sum(room > 1.0 for room in rooms) > FEW * len(rooms)
    if COLUMNS_A_LINE < longest <= (fitting + 1e-6 if mixed else MOST_COLUMNS_A_LINE):
        return longest
    return float(COLUMNS_A_LINE)


def _next_cut(at: int, before: list[float], ranks: list[int], most: float) -> int:
    """Return the best place to break: of the highest rank, nearest to equal lines."""
    furthest = max(bisect_left(before, before[at] + most + 1e-6, lo=at + 1) - 1, at + 1)
    half = before[at] + most / 2 - 1e-6
    while ranks[furthest] == NEVER:
        furthest += 1
    fits = [cut for cut in range(at + 1, furthest + 1) if ranks[cut] != NEVER]
    candidates = [cut for cut in fits if before[cut] >= half] or [furthest]
    bars = [cut for cut in fits if ranks[cut] == 4]
    candidates = candidates if any(ranks[cut] == 4 for cut in candidates) else [*bars[-1:], *candidates]
    left = before[-1] - before[at]
    equal = before[at] + left / ceil(left / most - 1e-6)
    return max(candidates, key=lambda cut: (ranks[cut], -round(abs(before[cut] - equal), 6), cut))


def _ranks(exercise: Exercise, inner: frozenset[int]) -> list[int]:
    """Rank each position as a place to open a line: bar 4, half bar 3, beat 2, eighth 1, note 0.

    A tied note and one inside a tuplet open a line at a bar only.
    """
    bars = bars_of(exercise)
    ranks = [0] * (len(exercise.notes) + 1)
    ranks[-1] = 4
    inside = {at for each in exercise.spelling.tuplets for at in range(each.start + 1, each.stop)}
    for index, first in enumerate(bars):
        stop = bars[index + 1] if index + 1 < len(bars) else len(exercise.notes)
        beat = beat_of(meter_at(exercise, first))
        halves = _half_test(exercise, first, beat)
        for at in range(first, stop):
            offset = exercise.starts[at] - exercise.starts[first]
            if at in inner:
                ranks[at] = NEVER
            elif at == first:
                ranks[at] = 4
            elif exercise.notes[at].held or at in inside:
                ranks[at] = -1
            elif halves(offset):
                ranks[at] = 3
            else:
                ranks[at] = 2 if falls_on(offset, beat) else 1 if falls_on(offset, EIGHTH) else 0
    return ranks


def _half_test(exercise: Exercise, first: int, beat: Fraction) -> Callable[[Fraction], bool]:
    """Make a test for the middle of a bar (without a meter: for whole multiples of two beats)."""
    meter = meter_at(exercise, first)
    half = meter.bar / 2 if meter else beat * 2
    even = falls_on(half, beat)
    return lambda offset: even and falls_on(offset, half)


@dataclass(frozen=True)
class Placing:
    """Where every piece of an exercise stands, with its graces."""

    exercise: Exercise
    columns: LineColumns
    scale: float

    def grace_x(self, position: int) -> tuple[float, ...]:
        """Return where a note's graces stand, px, in order."""
        note = self.exercise.notes[position]
        aside = self.columns.x[position] - BRACKET_UNITS * note.ghost * self.scale
        return tuple(aside - units * self.scale for units in graces_back(len(note.graces)))

    def next_x(self, position: int) -> float:
        """Return where the column after a note begins, px: the next note or the line's end."""
        following = position + 1
        if following < len(self.columns.x) and self.line_of(following) == self.line_of(position):
            return self.columns.x[following]
        return self.columns.ends_x[self.line_of(position)]

    def line_of(self, position: int) -> int:
        """Return the line a note stands on, from 0."""
        return bisect_right(self.columns.cuts, position) - 1
