"""Open rolls in short: a run of doubles that leads into a note becomes one slashed note.

Conventions: values and starts are ``Fraction`` of a whole note. A roll's *strokes* are
counted with the note that it leads into, as the trade counts them (RRLL R is five).
Common practice of notation: the slashes and the flags of the slashed note together are
the beams of its strokes; it is tied to its last note; its number stands over it.

A run is drawn short only where that is plain to read:

- at least two doubles of one value (1/32, 1/24 or 1/48), the hands taking turns, with
  no grace, no buzz and no accent but on the first;
- the next note is struck by the other hand, without a grace: the roll's last stroke;
- seventeen strokes at most, which together are one plain note value;
- it lies inside a bar, and inside a beat or from a beat on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from evenhand.domain.exercise import Exercise, Note
from evenhand.engraving.notation import Shape, bars_of, beat_of, falls_on, ratio_of, shapes_of

Rolls = Literal["written", "short"]

STROKE_VALUES = frozenset({Fraction(1, 32), Fraction(1, 24), Fraction(1, 48)})
MOST_STROKES = 17
_BEAMS = {8: 1, 16: 2, 32: 3}


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll that is drawn as one slashed note."""

    strokes: int
    slashes: int


@dataclass(frozen=True)
class Score:
    """An exercise as it is drawn: ``positions`` holds each drawn note's place in the exercise.

    ``rolls`` are by the drawn note's position.
    """

    exercise: Exercise
    positions: tuple[int, ...]
    rolls: Mapping[int, Roll] = field(default_factory=dict)


def score_of(exercise: Exercise, rolls: Rolls = "written") -> Score:
    """Return what is to be drawn: the exercise itself, or with its rolls in short.

    >>> from evenhand.craft.text import parse_exercise
    >>> score_of(parse_exercise("1/32: RRLL 1/8: R"), "short").rolls
    {0: Roll(strokes=5, slashes=2)}
    """
    whole = Score(exercise, tuple(range(len(exercise.notes))))
    if rolls == "written":
        return whole
    runs = _runs(exercise)
    return _drawn(exercise, runs) if runs else whole


def _drawn(exercise: Exercise, runs: Mapping[int, int]) -> Score:
    """Put one note in the place of each run; ``runs`` holds (start, stop)."""
    notes: list[Note] = []
    positions: list[int] = []
    rolls: dict[int, Roll] = {}
    at = 0
    while at < len(exercise.notes):
        note, stop = exercise.notes[at], runs.get(at, at + 1)
        if at in runs:
            length = note.value * (stop - at)
            beams = _BEAMS[shapes_of(note.value)[0].base]
            flags = _BEAMS.get(shapes_of(length)[0].base, 0)
            rolls[len(notes)] = Roll(strokes=stop - at + 1, slashes=beams - flags)
            note = replace(note, value=length)
        notes.append(note)
        positions.append(at)
        at = stop
    moved = {position: index for index, position in enumerate([*positions, len(exercise.notes)])}
    bar_lines = tuple(moved[line] for line in exercise.bar_lines)
    return Score(Exercise(tuple(notes), exercise.meter, bar_lines), tuple(positions), rolls)


def _runs(exercise: Exercise) -> dict[int, int]:
    """Find the runs that can be drawn short, as first positions with their ends (excluded)."""
    runs: dict[int, int] = {}
    at = 0
    while at < len(exercise.notes):
        stop = _doubles_end(exercise, at)
        if stop - at >= 4 and _leads_on(exercise, stop) and _is_plain(exercise, at, stop):
            runs[at] = stop
        at = max(stop, at + 1)
    return runs


def _doubles_end(exercise: Exercise, start: int) -> int:
    """Return where the doubles that begin here end (excluded): ``start`` where there are none."""
    notes = exercise.notes
    at = start
    while at + 1 < len(notes):
        pair = notes[at : at + 2]
        fits = all(_may_roll(note, notes[start].value) for note in pair) and not pair[1].accent
        turns = at == start or (pair[0].hand != notes[at - 1].hand and not pair[0].accent)
        if not (fits and turns and pair[0].hand == pair[1].hand):
            break
        at += 2
    return at


def _may_roll(note: Note, value: Fraction) -> bool:
    return not note.is_rest and not note.graces and not note.buzz and note.value == value


def _leads_on(exercise: Exercise, stop: int) -> bool:
    """Tell whether a roll that ends here leads into a note of the other hand."""
    if stop >= len(exercise.notes):
        return False
    last = exercise.notes[stop]
    return not last.is_rest and not last.graces and last.hand != exercise.notes[stop - 1].hand


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
    return _lies_well(offset, shapes[0], beat_of(exercise.meter))


def _lies_well(offset: Fraction, shape: Shape, beat: Fraction) -> bool:
    """Tell whether a note begins on a beat, or on its own grid and ends within the beat."""
    if falls_on(offset, beat):
        return True
    within = offset % beat + shape.length <= beat
    return within and falls_on(offset, Fraction(1, 2 * shape.base))
