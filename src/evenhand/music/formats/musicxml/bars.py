"""An exercise laid out for other programs: in full bars, each note cut into single signs.

Conventions: lengths are ``Fraction`` of a whole note. A *piece* is one sign of a score: a note or rest that
one note head holds and no bar line cuts. All pieces of one note but the first are tied to it. The
exercise's own engraving writes rests instead; a tie loses nothing on the way through another program.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from evenhand.music.engraving.notation import ratio_of, shapes_of
from evenhand.music.exercise import MOST_METER_BEATS, Exercise, Meter, Note, meter_of
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
        """Tell whether a piece goes on with the note before it."""
        return piece > 0 and self.origin[piece] == self.origin[piece - 1]

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
    written = Exercise(tuple(pieces), exercise.meter, bars[1:])
    first_bar = sum((note.value for note in pieces[: bars[1] if bars[1:] else None]), Fraction(0))
    time = exercise.meter or _time_for(first_bar)
    return ScoreBars(written, tuple(origin), bars, time, exercise.meter is not None)


def _edges(exercise: Exercise) -> frozenset[Fraction]:
    """Return the times at which bars begin, the first and the end left out."""
    length = exercise.length
    starts = frozenset(exercise.starts)
    lines = {exercise.starts[at] for at in exercise.bar_lines if 0 < at < len(exercise.notes)}
    if exercise.meter:
        bar = exercise.meter.bar
        if length / bar <= 4 * len(exercise.notes) + MOST_METER_BEATS:
            return frozenset({*lines, *_multiples(bar, length)})
        return frozenset({*lines, *(at for at in starts if at and (at / bar).denominator == 1)})
    if not lines and (wholes := set(_multiples(_WHOLE, length))) <= starts:
        return frozenset(wholes)
    return frozenset(lines)


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
    """Make one sign of a note; accent and graces stand at its first."""
    if first:
        return replace(note, value=value)
    return replace(note, value=value, accent=False, graces=())


def _time_for(bar: Fraction) -> Meter | None:
    """Return a time signature for a bar of this length, if there is one."""
    unit = max(bar.denominator, 4)
    beats = bar * unit
    return meter_of(int(beats), unit)
