"""Open rolls in short: a run of doubles that leads into a note becomes one slashed note.

Conventions: values and starts are ``Fraction`` of a whole note. A roll's *strokes* are
counted with the note that it leads into, as the trade counts them (RRLL R is five).
Common practice of notation: the slashes and the flags of the slashed note together are
the beams of its strokes; it is tied to its last note; its number stands over it.

A run is drawn short only where that is plain to read:

- at least two doubles of one value (1/32, 1/24 or 1/48), the hands taking turns, plain strokes
  or all of them ghosts; an accent and a dynamic on the first alone;
- the next note is struck by the other hand alone, without a grace: the roll's last stroke;
- seventeen strokes at most, which together are one plain note value;
- it lies inside a bar, inside a beat or from a beat on, and in no tuplet that was typed as such.

Rolls that were typed with slashes have no number; they are tied where they were tied.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from evenhand.music.engraving.notation import (
    NoteShape,
    bars_of,
    beat_of,
    falls_on,
    flags_of,
    meter_at,
    ratio_of,
    shapes_of,
)
from evenhand.music.exercise import Exercise, Note

Rolls = Literal["written", "typed", "short"]

STROKE_VALUES = frozenset({Fraction(1, 32), Fraction(1, 24), Fraction(1, 48)})
MOST_STROKES = 17


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll that is drawn as one slashed note; ``strokes`` is 0 where no number stands over it."""

    strokes: int
    slashes: int

    def of(self, written: Fraction) -> Roll:
        """Return the roll on one of the signs that its note is parted into: with the same beams in all."""
        beams = self.slashes  # held as beams until a sign is known
        return replace(self, slashes=beams - shapes_of(written)[0].flags)


def runs_of(exercise: Exercise, rolls: Rolls) -> dict[int, tuple[int, Roll]]:
    """Return the strokes that are drawn as one note: where each run begins, where it ends, and its roll.

    The roll's slashes are its beams here, flags included.
    """
    found: dict[int, tuple[int, Roll]] = {}
    if rolls == "short":
        for start, stop in _runs(exercise).items():
            found[start] = stop, Roll(stop - start + 1, shapes_of(exercise.notes[start].value)[0].flags)
    if rolls != "written":
        for start, stop in exercise.spelling.slashed:
            found[start] = stop, Roll(0, flags_of(exercise, start))
    return found


def _runs(exercise: Exercise) -> dict[int, int]:
    """Find the runs that can be drawn short, as first positions with their ends (excluded)."""
    runs: dict[int, int] = {}
    typed = {at for start, stop in exercise.spelling.slashed for at in range(start, stop)}
    typed |= exercise.tuplet_at.keys()
    at = 0
    while at < len(exercise.notes):
        stop = _doubles_end(exercise, at)
        if (
            typed.isdisjoint(range(at, stop))
            and stop - at >= 4
            and _leads_on(exercise, stop)
            and _is_plain(exercise, at, stop)
        ):
            runs[at] = stop
        at = max(stop, at + 1)
    return runs


def _doubles_end(exercise: Exercise, start: int) -> int:
    """Return where the doubles that begin here end (excluded): ``start`` where there are none."""
    notes = exercise.notes
    opens, at = replace(notes[start], accent=False, strong=False, dynamic=None, swell=None), start
    while at + 1 < len(notes):
        one, other = opens if at == start else notes[at], notes[at + 1]
        plain = Note(one.hand, opens.value, ghost=opens.ghost)
        turns = at == start or one.hand != notes[at - 1].hand
        if one.is_rest or not turns or not one == other == plain:
            break
        at += 2
    return at


def _leads_on(exercise: Exercise, stop: int) -> bool:
    """Tell whether a roll that ends here leads into a note of the other hand."""
    if stop >= len(exercise.notes):
        return False
    last = exercise.notes[stop]
    return not last.graces and last.one_hand not in {None, exercise.notes[stop - 1].hand}


def _is_plain(exercise: Exercise, start: int, stop: int) -> bool:
    """Tell whether one note can stand for a run: its value, and where it lies in its bar."""
    value = exercise.notes[start].value
    length = value * (stop - start)
    shapes = shapes_of(length)
    if value not in STROKE_VALUES or stop - start >= MOST_STROKES:
        return False
    if ratio_of(length).num > 1 or len(shapes) > 1 or shapes[0].length != length:
        return False
    bars = bars_of(exercise)
    if any(start < bar < stop for bar in bars):
        return False
    offset = exercise.starts[start] - exercise.starts[max(bar for bar in bars if bar <= start)]
    return _lies_well(offset, shapes[0], beat_of(meter_at(exercise, start)))


def _lies_well(offset: Fraction, shape: NoteShape, beat: Fraction) -> bool:
    """Tell whether a note begins on a beat, or on its own grid and ends within the beat."""
    if falls_on(offset, beat):
        return True
    within = offset % beat + shape.length <= beat
    return within and falls_on(offset, Fraction(1, 2 * shape.base))
