"""How an exercise is written down: note shapes, tuplets, beams and bar lines.

Conventions: values, lengths and starts are ``Fraction`` of a whole note; positions
count notes and rests from 0. Beaming follows common practice: by the beat (a dotted
quarter in compound meters), eighths alone by the half bar, odd meters in twos with
a three at the end.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import groupby, pairwise

from evenhand.music.exercise import Exercise, Meter, Note
from evenhand.music.reading.notes import own_ratio

QUARTER = Fraction(1, 4)
HALF = Fraction(1, 2)
EIGHTH = Fraction(1, 8)
SIXTEENTH = Fraction(1, 16)
SHORTEST = Fraction(1, 128)
SHORTEST_BY_QUARTERS = Fraction(1, 36)  # tuplets of shorter notes are counted by the eighth


@dataclass(frozen=True, slots=True)
class NoteShape:
    """A note's drawn value: 1 whole, 2 half, 4 quarter (0: a breve), and its dots."""

    base: int
    dots: int = 0

    @property
    def length(self) -> Fraction:
        """Length as drawn, before any tuplet."""
        plain = Fraction(1, self.base) if self.base else Fraction(2)
        return plain * (2 - Fraction(1, 2**self.dots))

    @property
    def flags(self) -> int:
        """How many flags it has, or beams in their place."""
        return max(self.base.bit_length() - 3, 0)


@dataclass(frozen=True, slots=True)
class Ratio:
    """So many notes in the time of so many: 3 in the time of 2."""

    num: int = 1
    base: int = 1


@dataclass(frozen=True, slots=True)
class Group:
    """Neighbouring positions ``start`` to ``stop`` (excluded) that one beat or tuplet holds."""

    start: int
    stop: int
    ratio: Ratio = Ratio()


_SHAPES = sorted(
    (NoteShape(base, dots) for base in (0, 1, 2, 4, 8, 16, 32, 64, 128) for dots in (0, 1, 2)),
    key=lambda shape: shape.length,
    reverse=True,
)


@lru_cache(maxsize=1024)
def ratio_of(value: Fraction) -> Ratio:
    """Return the tuplet a value belongs to: 3 in 2 for 1/12, 5 in 4 for 1/20.

    >>> ratio_of(Fraction(1, 24))
    Ratio(num=3, base=2)
    """
    return Ratio(*own_ratio(value))


@lru_cache(maxsize=1024)
def shapes_of(value: Fraction) -> tuple[NoteShape, ...]:
    """Return a value's shapes inside its tuplet; more than one where no single note holds it.

    What is left over is written as rests after the note (a drum does not sustain).

    >>> shapes_of(Fraction(3, 16))
    (NoteShape(base=8, dots=1),)
    """
    ratio = ratio_of(value)
    left = max(value * ratio.num / ratio.base, SHORTEST)
    shapes: list[NoteShape] = []
    for shape in _SHAPES:
        if shape.length <= left and shape.length >= SHORTEST:
            shapes.append(shape)
            left -= shape.length
    return tuple(shapes)


def ratio_at(exercise: Exercise, position: int) -> Ratio:
    """Return the tuplet that a note stands in: the written one, else the one that its value says."""
    written = exercise.tuplet_at.get(position)
    return Ratio(written.num, written.base) if written else ratio_of(exercise.notes[position].value)


def signs_at(exercise: Exercise, position: int) -> tuple[NoteShape, ...]:
    """Return a note's shapes inside its tuplet; more than one where no single sign holds it."""
    written = exercise.tuplet_at.get(position)
    value = exercise.notes[position].value
    return shapes_of(value * written.num / written.base) if written else shapes_of(value)


def shape_at(exercise: Exercise, position: int) -> NoteShape:
    """Return the shape of a note that a single sign holds."""
    return signs_at(exercise, position)[0]


def has_head(note: Note) -> bool:
    """Tell whether a note is drawn with a head: struck, or tied to one before."""
    return note.hand is not None or note.held


def falls_on(time: Fraction, grid: Fraction) -> bool:
    """Tell whether a time is a whole multiple of a grid.

    >>> falls_on(Fraction(3, 4), Fraction(1, 4)), falls_on(Fraction(3, 4), Fraction(1, 2))
    (True, False)
    """
    return (time / grid).denominator == 1


def bars_of(exercise: Exercise) -> tuple[int, ...]:
    """Return the positions before which a bar begins: as written and as the meter says.

    The first is 0. A meter's bar that begins inside a note is left out.
    """
    inside = {line for line in exercise.bar_lines if 0 < line < len(exercise.notes)}
    for first, stop, meter in exercise.sections:
        inside.add(first)
        if meter:
            starts = exercise.starts[first:stop]
            inside |= {at for at, start in enumerate(starts, first) if falls_on(start - starts[0], meter.bar)}
    return tuple(sorted(inside | {0}))


def meter_at(exercise: Exercise, position: int) -> Meter | None:
    """Return the meter that a note stands in."""
    held = (meter for at, meter in reversed(exercise.spelling.meters) if at <= position)
    return next(held, exercise.meter)


def beat_of(meter: Meter | None) -> Fraction:
    """Return what is beamed together: a dotted beat in compound meters, else a quarter."""
    if meter and meter.compound:
        return Fraction(3, meter.unit)
    return QUARTER


def groups_of(exercise: Exercise, cuts: tuple[int, ...] = ()) -> tuple[Group, ...]:
    """Put neighbouring notes together by beat and tuplet.

    No group crosses a bar line or one of the ``cuts`` (positions that open a line).
    """
    keys = _beat_keys(exercise)
    edges = sorted({*bars_of(exercise), *cuts, 0, len(exercise.notes)})
    groups: list[Group] = []
    for start, end in pairwise(edges):
        groups += _stretch(exercise, start, end, keys)
    return tuple(groups)


def beams_of(exercise: Exercise, group: Group) -> tuple[tuple[int, int], ...]:
    """Return the parts of a group that share a beam, as (first, last) positions.

    A beam begins and ends on a head and may pass over a short rest.
    """
    return tuple(_spans(exercise, [list(range(group.start, group.stop))]))


def spans_of(exercise: Exercise, cuts: tuple[int, ...] = ()) -> tuple[tuple[int, int], ...]:
    """Return what shares a beam, as (first, last) positions: by the beat, tuplets and other notes together.

    No beam crosses a bar line or one of the ``cuts``; none is cut inside a tuplet.
    """
    keys = _beat_keys(exercise)
    for group in groups_of(exercise, cuts):
        if group.ratio != Ratio():
            keys[group.start : group.stop] = [keys[group.start]] * (group.stop - group.start)
    edges = {*bars_of(exercise), *cuts}
    runs: list[list[int]] = []
    for at, key in enumerate(keys):
        if at == 0 or at in edges or key != keys[at - 1]:
            runs.append([])
        runs[-1].append(at)
    return tuple(_spans(exercise, runs))


def _spans(exercise: Exercise, runs: Iterable[list[int]]) -> Iterator[tuple[int, int]]:
    """Give the beams of stretches that may share one: parted by what has no flags."""
    for run in runs:
        for flagged, part in groupby(run, key=lambda at: shape_at(exercise, at).base >= 8):
            heads = [at for at in part if has_head(exercise.notes[at])]
            if flagged and len(heads) > 1:
                yield heads[0], heads[-1]


def parted_of(exercise: Exercise, beams: tuple[tuple[int, int], ...]) -> frozenset[int]:
    """Return the notes after which only one beam goes on.

    Thirty-seconds part at each eighth, none alone, and what is a tuplet's from what is not.
    """
    parted: set[int] = set()
    for first, last in beams:
        for at in range(first, last):
            both = exercise.notes[at : at + 2]
            plain = [ratio_at(exercise, each).num == 1 for each in (at, at + 1)]
            short = all(note.value < SIXTEENTH for note in both) and all(plain)
            lone = at in {first, last - 1}
            if plain[0] != plain[1] or (
                short and not lone and falls_on(exercise.starts[at + 1] - exercise.starts[first], EIGHTH)
            ):
                parted.add(at)
    return frozenset(parted)


@dataclass(frozen=True, slots=True)
class Beam:
    """One beam from the first to the last note; a hook where both are one, to the left or right of it."""

    level: int  # from 0, the outermost
    first: int
    last: int
    hook: int = 0  # -1 left, 1 right


def flags_of(exercise: Exercise, position: int) -> int:
    """Return how many flags a note has, or beams in their place."""
    return shape_at(exercise, position).flags


def struck_in(exercise: Exercise, first: int, last: int) -> list[int]:
    """Return the positions from first to last that have a head."""
    return [at for at in range(first, last + 1) if has_head(exercise.notes[at])]


def beam_parts(exercise: Exercise, first: int, last: int, *, over_rests: bool = True) -> Iterator[Beam]:
    """Part what one beam holds together into its beams: one over all, and those of the shorter notes.

    A note alone with its beam has a hook, towards the next note if it opens a part, else back.
    """
    parted = parted_of(exercise, ((first, last),))
    yield Beam(0, first, last)
    struck = struck_in(exercise, first, last)
    apart = {
        at
        for at, following in pairwise(struck)
        if not parted.isdisjoint(range(at, following)) or (following - at > 1 and not over_rests)
    }
    flags = [flags_of(exercise, at) for at in struck]
    for level in range(1, max(flags)):
        opens = 0
        for k, at in enumerate(struck):
            if flags[k] <= level:
                opens = k + 1
            elif at == last or flags[k + 1] <= level or at in apart:
                forward = at != last and (k == 0 or struck[k - 1] in apart)
                yield Beam(level, struck[opens], at, (1 if forward else -1) if opens == k else 0)
                opens = k + 1


def _stretch(exercise: Exercise, start: int, end: int, keys: list[tuple[int, int]]) -> list[Group]:
    """Group the notes between two edges."""
    groups: list[Group] = []
    at = start
    while at < end:
        ratio, written = ratio_at(exercise, at), exercise.tuplet_at.get(at)
        if written:
            group = Group(at, min(written.stop, end), ratio)
        elif ratio.num > 1:
            group = _tuplet(exercise, at, end, keys)
        else:
            group = _beat(exercise, at, end, keys)
        groups.append(group)
        at = group.stop
    return groups


def _beat(exercise: Exercise, start: int, end: int, keys: list[tuple[int, int]]) -> Group:
    stop = start + 1
    while stop < end and keys[stop] == keys[start] and ratio_at(exercise, stop).num == 1:
        stop += 1
    return Group(start, stop)


def _tuplet(exercise: Exercise, start: int, end: int, keys: list[tuple[int, int]]) -> Group:
    """Take notes until they fill a plain value at the end of a beat, or a quarter (short ones: an eighth)."""
    ratio = ratio_at(exercise, start)
    full = QUARTER if exercise.notes[start].value >= SHORTEST_BY_QUARTERS else EIGHTH
    held = Fraction(0)
    stop = start
    while (
        stop < end
        and ratio_of(exercise.notes[stop].value) == ratio
        and (stop == start or stop not in exercise.tuplet_at)
    ):
        held += exercise.notes[stop].value
        stop += 1
        whole = ratio_of(held).num == 1
        at_beat = stop == end or keys[stop] != keys[stop - 1]
        if whole and (at_beat or held >= full):
            break
    return Group(start, stop, _shown(exercise, start, stop, ratio))


def _shown(exercise: Exercise, start: int, stop: int, ratio: Ratio) -> Ratio:
    """Count a tuplet in its longest note that counts it: six sixteenths in the time of four.

    A flam drag's eighth, two sixteenths and eighth are three in the time of two.
    """
    values = [note.value for note in exercise.notes[start:stop]]
    whole = sum(values, Fraction(0))
    for value in sorted(set(values), reverse=True):
        times = whole / value / ratio.num
        if times in {1, 2, 4}:
            return Ratio(ratio.num * int(times), ratio.base * int(times))
    return ratio


def _beat_keys(exercise: Exercise) -> list[tuple[int, int]]:
    """Give each note its bar and beam window; notes with the same key may share a beam."""
    bars = (*bars_of(exercise), len(exercise.notes))
    keys: list[tuple[int, int]] = []
    for bar, (first, stop) in enumerate(pairwise(bars)):
        meter = meter_at(exercise, first)
        offsets = offsets_in_bar(exercise, first, stop, meter)
        windows = _windows(exercise, offsets, first, meter)
        if _by_half_bars(meter):
            windows = _eighths_by_halves(exercise, first, windows)
        keys += [(bar, window) for window in windows]
    return keys


def offsets_in_bar(exercise: Exercise, first: int, stop: int, meter: Meter | None) -> list[Fraction]:
    """Return where the notes of a bar begin in it; a pickup's are counted from the bar's end."""
    starts = exercise.starts[first:stop]
    ahead = Fraction(0)
    if meter and first == 0 and exercise.spelling.pickup:
        ahead = max(meter.bar - (starts[-1] + exercise.notes[stop - 1].value), ahead)
    return [start - starts[0] + ahead for start in starts]


def group_starts(meter: Meter) -> list[Fraction]:
    """Return where the groups of an additive meter begin."""
    return [Fraction(sum(meter.groups[:k]), meter.unit) for k in range(len(meter.groups))]


def _windows(exercise: Exercise, offsets: list[Fraction], first: int, meter: Meter | None) -> list[int]:
    """Find the beat each note of a bar falls in; an eighth or less at the end joins the beat before."""
    if meter and meter.groups:
        begins = group_starts(meter)
        return [bisect_right(begins, offset) for offset in offsets]
    beat = beat_of(meter)
    length = offsets[-1] + exercise.notes[first + len(offsets) - 1].value
    last = int(length / beat)
    if 0 < length - last * beat <= beat / 2:
        last -= 1
    last = max(last, 0)
    return [min(int(offset / beat), last) for offset in offsets]


def _by_half_bars(meter: Meter | None) -> bool:
    """Tell whether eighths are beamed in fours."""
    return meter is None or (not meter.groups and beat_of(meter) == QUARTER and meter.bar % HALF == 0)


def _eighths_by_halves(exercise: Exercise, first: int, windows: list[int]) -> list[int]:
    """Join two neighbouring beats where both hold eighths and nothing shorter."""
    shortest: dict[int, Fraction] = {}
    plain: dict[int, bool] = {}
    for at, window in enumerate(windows):
        half = window // 2
        value = exercise.notes[first + at].value
        shortest[half] = min(value, shortest.get(half, value))
        plain[half] = plain.get(half, True) and ratio_at(exercise, first + at).num == 1
    return [
        window - window % 2 if shortest[window // 2] >= EIGHTH and plain[window // 2] else window
        for window in windows
    ]
