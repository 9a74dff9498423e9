"""An exercise laid out for other programs: in full bars, each note cut into single signs.

Conventions: lengths are ``Fraction`` of a whole note. A *piece* is one sign of a score: a note or rest that
one note head holds and no bar line cuts. All pieces of one note but the first are tied to it. The
exercise's own engraving writes rests instead; a tie loses nothing on the way through another program.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from evenhand.music.engraving.notation import has_head, ratio_of, shapes_of
from evenhand.music.exercise import MOST_METER_BEATS, Exercise, Meter, Note, Spelling, meter_of
from evenhand.music.text import MAX_DENOMINATOR

_WHOLE = Fraction(1)


@dataclass(frozen=True, slots=True)
class ScoreBars:
    """Pieces in order. ``origin`` is each piece's position in the exercise, ``bars`` which pieces open one.

    ``time`` is the time signature to write; ``time_shown`` is False where the exercise has no meter and it
    only says how long the bars are; None where no time signature can say that.
    """

    written: Exercise
    origin: tuple[int, ...]
    bars: tuple[int, ...]
    time: Meter | None
    time_shown: bool

    def tied_back(self, piece: int) -> bool:
        """Tell whether a piece goes on with the note before it, or is what a roll is tied into."""
        if piece == 0 or self.is_rest(piece):
            return False
        before = self.written.notes[piece - 1]
        return self.goes_on(piece) or before.tied

    def goes_on(self, piece: int) -> bool:
        """Tell whether a piece only lengthens the note before it."""
        same = piece > 0 and self.origin[piece] == self.origin[piece - 1]
        return same or self.written.notes[piece].held

    def is_rest(self, piece: int) -> bool:
        """Tell whether a piece is drawn as a rest."""
        return not has_head(self.written.notes[piece])

    @property
    def meters(self) -> Mapping[int, Meter]:
        """The meters that change, by the piece before which they stand."""
        return dict(self.written.spelling.meters)

    def tied_on(self, piece: int) -> bool:
        """Tell whether the next piece goes on with this one."""
        return piece + 1 < len(self.origin) and self.tied_back(piece + 1)

    def spans(self) -> tuple[tuple[int, int], ...]:
        """Return each bar's pieces as (first, stop)."""
        return tuple(pairwise((*self.bars, len(self.origin))))

    def length(self, first: int, stop: int) -> Fraction:
        """Return the length of the pieces from ``first`` to before ``stop``."""
        return sum((note.value for note in self.written.notes[first:stop]), Fraction(0))


def score_bars(exercise: Exercise) -> ScoreBars:
    """Lay an exercise out in bars.

    With a meter, bars are the meter's, and a note that a bar line cuts is tied over it. Without, they are
    the written ones; without those, whole notes where notes begin there, else one bar holds all.
    """
    edges = _edges(exercise)
    ordered = sorted(edges)
    pieces: list[Note] = []
    origin: list[int] = []
    opens: list[int] = []
    for position, (note, start) in enumerate(zip(exercise.notes, exercise.starts, strict=True)):
        for number, (at, value) in enumerate(_cut(note.value, start, ordered)):
            if at in edges:
                opens.append(len(pieces))
            signs = _signs(value)
            pieces += [_piece(note, sign, first=number == k == 0) for k, sign in enumerate(signs)]
            origin += [position] * len(signs)
    bars = (0, *(at for at in opens if at))
    first_of = {position: piece for piece, position in reversed(list(enumerate(origin)))}
    meters = tuple((first_of[at], meter) for at, meter in exercise.spelling.meters)
    written = Exercise(
        tuple(pieces), exercise.meter, bars[1:], Spelling(meters, exercise.spelling.pickup and len(bars) > 1)
    )
    first_bar = sum((note.value for note in pieces[: bars[1] if bars[1:] else None]), Fraction(0))
    time = exercise.meter or _time_for(first_bar)
    return ScoreBars(written, tuple(origin), bars, time, exercise.meter is not None)


def _edges(exercise: Exercise) -> frozenset[Fraction]:
    """Return the times at which bars begin, the first and the end left out."""
    length = exercise.length
    starts = frozenset(exercise.starts)
    lines = {exercise.starts[at] for at in exercise.bar_lines if 0 < at < len(exercise.notes)}
    if not exercise.keeps_meter:
        return frozenset({*lines, *_changing(exercise)} - {Fraction(0)})
    if exercise.meter:
        bar = exercise.meter.bar
        if length / bar <= 4 * len(exercise.notes) + MOST_METER_BEATS:
            return frozenset({*lines, *_multiples(bar, length)})
        return frozenset({*lines, *(at for at in starts if at and (at / bar).denominator == 1)})
    if not lines and (wholes := set(_multiples(_WHOLE, length))) <= starts:
        return frozenset(wholes)
    return frozenset(lines)


def _changing(exercise: Exercise) -> Iterator[Fraction]:
    """Give the times at which bars begin where the meter changes or a pickup comes first."""
    ends = (*exercise.starts, exercise.length)
    for first, stop, meter in exercise.sections:
        at = ends[first]
        yield at
        many = (ends[stop] - at) / meter.bar if meter else Fraction(0)
        if meter and many <= 4 * (stop - first) + MOST_METER_BEATS:
            yield from (at + each for each in _multiples(meter.bar, ends[stop] - at))


def _multiples(bar: Fraction, length: Fraction) -> list[Fraction]:
    """List the multiples of a bar inside a length."""
    return [bar * k for k in range(1, -(-length // bar))]


def _cut(value: Fraction, start: Fraction, edges: list[Fraction]) -> list[tuple[Fraction, Fraction]]:
    """Cut a note at the bar lines inside it, as (start, value); leave it whole where that is too fine."""
    inside = edges[bisect_right(edges, start) : bisect_left(edges, start + value)]
    parts = [(at, after - at) for at, after in pairwise((start, *inside, start + value))]
    if any(part.denominator > MAX_DENOMINATOR for _, part in parts):
        return [(start, value)]
    return parts


def _signs(value: Fraction) -> list[Fraction]:
    """Split a value into those that one sign holds."""
    ratio = ratio_of(value)
    return [shape.length * ratio.base / ratio.num for shape in shapes_of(value)]


def _piece(note: Note, value: Fraction, *, first: bool) -> Note:
    """Make one sign of a note; what stands once stands at its first."""
    if first:
        return replace(note, value=value)
    return replace(note, value=value, accent=False, strong=False, graces=(), dynamic=None, swell=None)


def _time_for(bar: Fraction) -> Meter | None:
    """Return a time signature for a bar of this length, if there is one."""
    unit = max(bar.denominator, 4)
    beats = bar * unit
    return meter_of(int(beats), unit)
