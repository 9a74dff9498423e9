"""What is drawn of an exercise: one sign after another, in the order in which they are written.

Conventions: a *piece* is a note, rest or tied note that one sign holds and no bar line cuts; a *position*
counts the exercise's notes as they are played. ``rolls`` "written" writes out every stroke and every repeat,
so that a chart finds all positions; else slashed rolls and repeats are drawn as they were typed.

Rests are combined by the meter (common practice): each is as long as fits at its place, none crosses the
middle of a bar, a dotted beat or a group of beats; a bar of nothing else is one whole rest.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from evenhand.music.engraving.notation import (
    HALF,
    QUARTER,
    Ratio,
    bars_of,
    beat_of,
    group_starts,
    meter_at,
    offsets_in_bar,
    ratio_at,
    ratio_of,
    shapes_of,
)
from evenhand.music.engraving.rolls import Roll, Rolls, runs_of
from evenhand.music.exercise import Exercise, Meter, Note, Spelling, Tuplet

FINEST = Fraction(1, 128)
MOST_PIECES = 8  # of one note: longer ones are left whole, and drawn as the longest sign that fits
_PLAIN_RESTS = tuple(Fraction(1, 1 << k) for k in range(8))


@dataclass(frozen=True, slots=True)
class DrawnEnding:
    """An ending's bracket over the pieces from ``first`` to ``stop`` (excluded)."""

    first: int
    stop: int
    number: int
    closes: bool


@dataclass(frozen=True)
class DrawnScore:
    """An exercise as it is drawn.

    ``positions`` holds each piece's position; ``marks`` which positions begin in it, and at which share of
    its time. ``rolls`` are by piece; ``silent`` are rests for a whole bar. ``opens`` are the pieces before
    which a repeat begins, ``closes`` those before which one ends, and how often it is played.
    """

    exercise: Exercise
    positions: tuple[int, ...]
    marks: tuple[tuple[tuple[int, float], ...], ...]
    rolls: Mapping[int, Roll] = field(default_factory=dict)
    silent: frozenset[int] = frozenset()
    opens: frozenset[int] = frozenset()
    closes: Mapping[int, int] = field(default_factory=dict)
    endings: tuple[DrawnEnding, ...] = ()


@dataclass(frozen=True, slots=True)
class _Item:
    """A note or rest to be drawn, maybe for several positions: where it lies in its bar."""

    note: Note
    position: int
    stop: int
    bar: int
    offset: Fraction
    room: Fraction | None  # of its bar, from its beginning; None where no meter says it
    meter: Meter | None
    ratio: Ratio
    roll: Roll | None = None


@dataclass(slots=True)
class _Drawn:
    """The pieces so far."""

    notes: list[Note] = field(default_factory=list)
    positions: list[int] = field(default_factory=list)
    marks: list[tuple[tuple[int, float], ...]] = field(default_factory=list)
    rolls: dict[int, Roll] = field(default_factory=dict)
    silent: set[int] = field(default_factory=set)
    bars: set[int] = field(default_factory=set)
    at: dict[int, int] = field(default_factory=dict)  # a position's first piece

    def add(self, note: Note, position: int, marks: tuple[tuple[int, float], ...]) -> None:
        """Add a piece."""
        for each, _ in marks:
            self.at.setdefault(each, len(self.notes))
        before = self.notes[-1].sound if note.held and self.notes else note.sound
        self.notes.append(replace(note, sound=before))
        self.positions.append(position)
        self.marks.append(marks)


def score_of(exercise: Exercise, rolls: Rolls = "written") -> DrawnScore:
    """Return what is to be drawn.

    >>> from evenhand.music.text import parse_exercise
    >>> score_of(parse_exercise("1/32: RRLL 1/8: R"), "short").rolls
    {0: Roll(strokes=5, slashes=2)}
    >>> [str(note.value) for note in score_of(parse_exercise("4/4 1/8: R------R")).exercise.notes]
    ['1/8', '1/8', '1/4', '1/4', '1/8', '1/8']
    """
    drawn = _Drawn()
    items = list(_items(exercise, rolls))
    at = 0
    while at < len(items):
        stop = _rests_end(items, at)
        if stop > at:
            _draw_rests(drawn, items[at:stop])
        else:
            _draw_note(drawn, items[at])
        at = max(stop, at + 1)
    return _score(exercise, drawn, folded=rolls != "written")


def written_positions(exercise: Exercise) -> Iterator[int]:
    """Give the positions that are written where repeats are: the first time through, and every ending."""
    skipped = {
        at
        for repeat in exercise.spelling.repeats
        for first, ends, _ in repeat.passes[1:]
        for at in range(first, ends)
    }
    return (at for at in range(len(exercise.notes)) if at not in skipped)


def _items(exercise: Exercise, rolls: Rolls) -> Iterator[_Item]:
    """Give what is to be drawn, its notes whole."""
    places = _places(exercise)
    order: Iterable[int] = range(len(exercise.notes)) if rolls == "written" else written_positions(exercise)
    runs = runs_of(exercise, rolls)
    covered: set[int] = set()
    for position in order:
        if position in covered:
            continue
        bar, offset, room, meter = places[position]
        note, stop, roll = exercise.notes[position], position + 1, None
        if position in runs:
            stop, roll = runs[position]
            covered |= set(range(position, stop))
            tied = roll.strokes > 0 or exercise.notes[stop - 1].tied
            note = replace(note, value=note.value * (stop - position), tied=tied)
        written = position in exercise.tuplet_at
        ratio = ratio_at(exercise, position) if written else ratio_of(note.value)
        yield _Item(note, position, stop, bar, offset, room, meter, ratio, roll)


def _places(exercise: Exercise) -> list[tuple[int, Fraction, Fraction | None, Meter | None]]:
    """Return each position's bar, its place in it, what is left of the bar, and the meter."""
    bars = (*bars_of(exercise), len(exercise.notes))
    out: list[tuple[int, Fraction, Fraction | None, Meter | None]] = []
    for bar, (first, stop) in enumerate(pairwise(bars)):
        meter = meter_at(exercise, first)
        for offset in offsets_in_bar(exercise, first, stop, meter):
            inside = offset % meter.bar if meter else offset
            out.append((bar, inside, meter.bar - inside if meter else None, meter))
    return out


def _rests_end(items: list[_Item], start: int) -> int:
    """Return where the rests end that may be combined from here: ``start`` where there are none."""
    first = items[start]
    if first.note.hand is not None or first.note.held or first.ratio != Ratio():
        return start
    stop = start + 1
    while stop < len(items):
        each = items[stop]
        marked = each.note.dynamic or each.note.swell
        together = each.bar == first.bar and each.position == items[stop - 1].stop
        if each.note.hand is not None or each.note.held or each.ratio != Ratio() or marked or not together:
            break
        stop += 1
    return stop


def _draw_rests(drawn: _Drawn, items: list[_Item]) -> None:
    """Draw neighbouring rests as the meter's rules say."""
    first, length = items[0], sum((item.note.value for item in items), Fraction(0))
    begins: list[tuple[Fraction, int]] = []
    at = Fraction(0)
    for item in items:
        begins.append((at, item.position))
        at += item.note.value
    silent = first.meter is not None and not first.offset and length == first.meter.bar
    values = [length] if silent else list(rest_values(first.offset, length, first.meter))
    at, note = Fraction(0), first.note
    if not first.offset:
        drawn.bars.add(len(drawn.notes))
    for value in values:
        if silent:
            drawn.silent.add(len(drawn.notes))
        inside = tuple((position, float((t - at) / value)) for t, position in begins if at <= t < at + value)
        drawn.add(replace(note, value=value), max(p for t, p in begins if t <= at), inside)
        note = Note(None, value)
        at += value


def rest_values(offset: Fraction, length: Fraction, meter: Meter | None) -> Iterator[Fraction]:
    """Part a silence into rests.

    >>> [str(value) for value in rest_values(Fraction(1, 8), Fraction(3, 4), None)]
    ['1/8', '1/4', '1/4', '1/8']
    """
    while length > 0:
        value = _rest_at(offset, length, meter)
        yield value
        offset, length = offset + value, length - value


def _rest_at(offset: Fraction, length: Fraction, meter: Meter | None) -> Fraction:
    """Return the longest rest that may stand at a place."""
    beat, begins, room = beat_of(meter), Fraction(0), length
    if meter and meter.groups:
        edges = [*group_starts(meter), meter.bar]
        at = min(bisect_right(edges, offset), len(edges) - 1)
        begins, room = edges[at - 1], min(length, edges[at] - offset)
    elif beat != QUARTER:
        begins = offset - offset % beat
        if offset == begins and length >= beat:
            return beat
        room = min(length, begins + beat - offset)
    longest = Fraction(1) if meter is None else HALF if beat == QUARTER and meter.bar % HALF == 0 else QUARTER
    for value in _PLAIN_RESTS:
        if value <= min(room, longest) and ((offset - begins) / value).denominator == 1:
            return value
    fitting = next((value for value in _PLAIN_RESTS if value <= room), FINEST)
    return fitting if fitting <= length and shapes_of(length)[1:] else length


def _draw_note(drawn: _Drawn, item: _Item) -> None:
    """Draw a note, tied where no single sign holds it and where a bar line cuts it."""
    begins = tuple(
        (at, (at - item.position) / (item.stop - item.position)) for at in range(item.position, item.stop)
    )
    if not item.offset:
        drawn.bars.add(len(drawn.notes))
    at, note, whole = Fraction(0), item.note, item.note.value
    for value, opens_bar in _parts(item):
        if opens_bar:
            drawn.bars.add(len(drawn.notes))
        share = value / whole
        done = at / whole
        inside = tuple(
            (position, (when - float(done)) / float(share))
            for position, when in begins
            if float(done) - 1e-9 <= when < float(done + share) - 1e-9
        )
        if item.roll:
            drawn.rolls[len(drawn.notes)] = item.roll.of(value * item.ratio.num / item.ratio.base)
        drawn.add(replace(note, value=value), item.position, inside)
        note = Note(None, value, buzz=item.note.buzz, held=bool(item.note.hand or item.note.held))
        at += value
    if item.note.tied and drawn.notes[-1].held:
        drawn.notes[-1] = replace(drawn.notes[-1], tied=True)
    if drawn.notes[-1].held and len(drawn.notes) > 1 and not item.note.hand:
        drawn.notes[-1] = replace(drawn.notes[-1], buzz=drawn.notes[-2].buzz)


def _parts(item: _Item) -> Iterator[tuple[Fraction, bool]]:
    """Part a note's value into single signs, and tell which open a bar."""
    left, offset, room, opens = item.note.value, item.offset, item.room, False
    whole = item.note.hand is not None or item.note.held
    pieces = 0
    while left > 0:
        cut = min(left, room) if room is not None and room > 0 and whole and pieces < MOST_PIECES else left
        if item.ratio != Ratio():
            cut = left
        for value in _signs(cut, offset, item):
            yield value, opens
            opens = False
            pieces += 1
        left -= cut
        offset, room, opens = Fraction(0), item.meter.bar if item.meter else None, True


def _signs(value: Fraction, offset: Fraction, item: _Item) -> list[Fraction]:
    """Part a value at the beat where that gives two signs, else the longest first."""
    num, base = item.ratio.num, item.ratio.base
    written = value * num / base
    shapes = shapes_of(written)
    if len(shapes) == 1 or sum(shape.length for shape in shapes) != written:
        return [value]
    beat = beat_of(item.meter)
    first = beat - offset % beat
    if (
        item.ratio == Ratio()
        and first < value
        and len(shapes_of(first)) == len(shapes_of(value - first)) == 1
    ):
        return [first, value - first]
    return [shape.length * base / num for shape in shapes]


def _score(exercise: Exercise, drawn: _Drawn, *, folded: bool) -> DrawnScore:
    """Put the pieces together with the signs around them."""
    spelling = exercise.spelling
    positions, pieces = list(drawn.at), [*drawn.at.values(), len(drawn.notes)]  # both rise

    def piece(position: int) -> int:
        return pieces[bisect_left(positions, position)]

    tuplets = tuple(
        Tuplet(drawn.at[each.start], piece(each.stop), each.num, each.base)
        for each in spelling.tuplets
        if each.start in drawn.at
    )
    meters = tuple((drawn.at[at], meter) for at, meter in spelling.meters if at in drawn.at)
    repeats = spelling.repeats if folded else ()
    opens = frozenset(drawn.at[repeat.at] for repeat in repeats)
    closes: dict[int, int] = {}
    endings: list[DrawnEnding] = []
    for repeat in repeats:
        if not repeat.endings:
            closes[piece(repeat.stop)] = repeat.times
        for number, (_, first, stop) in enumerate(repeat.passes if repeat.endings else (), start=1):
            last = number == repeat.times
            endings.append(DrawnEnding(drawn.at[first], piece(stop), number, closes=not last))
            if not last:
                closes[piece(stop)] = 2
    edges = {
        *drawn.bars,
        *opens,
        *closes,
        *(each.first for each in endings),
        *(each.stop for each in endings),
    }
    lines = {drawn.at[at] for at in exercise.bar_lines if at in drawn.at}
    made = Exercise(
        tuple(drawn.notes),
        exercise.meter,
        tuple(sorted({*edges, *lines} - {0})),
        Spelling(meters, spelling.pickup, spelling.counted, (), tuplets),
    )
    return DrawnScore(
        made,
        tuple(drawn.positions),
        tuple(drawn.marks),
        drawn.rolls,
        frozenset(drawn.silent),
        opens,
        closes,
        tuple(endings),
    )
