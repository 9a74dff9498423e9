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

What a short roll carries: its number of strokes over it, and the tie to its last note.

Conventions: px, x from the line's left edge, y from the staff line, downwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from evenhand.music.engraving.columns import Placing
from evenhand.music.engraving.ink import LineInk
from evenhand.music.engraving.notation import NoteShape, bars_of, beat_of, falls_on, ratio_of, shapes_of
from evenhand.music.engraving.stems import Stems, number
from evenhand.music.exercise import Exercise, Note

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
class DrawnScore:
    """An exercise as it is drawn: ``positions`` holds each drawn note's place in the exercise.

    ``rolls`` are by the drawn note's position.
    """

    exercise: Exercise
    positions: tuple[int, ...]
    rolls: Mapping[int, Roll] = field(default_factory=dict)


def score_of(exercise: Exercise, rolls: Rolls = "written") -> DrawnScore:
    """Return what is to be drawn: the exercise itself, or with its rolls in short.

    >>> from evenhand.music.text import parse_exercise
    >>> score_of(parse_exercise("1/32: RRLL 1/8: R"), "short").rolls
    {0: Roll(strokes=5, slashes=2)}
    """
    whole = DrawnScore(exercise, tuple(range(len(exercise.notes))))
    if rolls == "written":
        return whole
    runs = _runs(exercise)
    return _drawn(exercise, runs) if runs else whole


def _drawn(exercise: Exercise, runs: Mapping[int, int]) -> DrawnScore:
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
    return DrawnScore(Exercise(tuple(notes), exercise.meter, bar_lines), tuple(positions), rolls)


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


def _lies_well(offset: Fraction, shape: NoteShape, beat: Fraction) -> bool:
    """Tell whether a note begins on a beat, or on its own grid and ends within the beat."""
    if falls_on(offset, beat):
        return True
    within = offset % beat + shape.length <= beat
    return within and falls_on(offset, Fraction(1, 2 * shape.base))


NUMBER_EM_UNITS = 200.0
NUMBER_GAP_UNITS = 60.0  # between the number's foot and what it stands over
DIGIT_HEIGHT_EM = 0.7
TIE_FROM_UNITS, TIE_DROP_UNITS = 95.0, 95.0  # its ends beside the heads' middles and below the line
TIE_DEPTH_UNITS, TIE_WEIGHT_UNITS = 95.0, 34.0
TIE_MOST_UNITS = 700.0  # a longer tie gets no deeper


def draw_rolls(placing: Placing, stems: Stems, rolls: Mapping[int, Roll], inks: Sequence[LineInk]) -> None:
    """Draw the number and the tie of every short roll."""
    for position, roll in rolls.items():
        ink = inks[placing.line_of(position)]
        foot = (stems.top_over(position) - NUMBER_GAP_UNITS) * placing.scale
        ink.texts.append(_number(placing, position, roll, foot))
        ink.top = min(ink.top, foot - NUMBER_EM_UNITS * DIGIT_HEIGHT_EM * placing.scale)
        _tie(placing, position, inks)


def _number(placing: Placing, position: int, roll: Roll, foot: float) -> str:
    size = number(NUMBER_EM_UNITS * placing.scale)
    x = number(placing.columns.x[position])
    style = f'font-family="serif" font-size="{size}" text-anchor="middle"'
    return f'<text class="roll" x="{x}" y="{number(foot)}" {style}>{roll.strokes}</text>'


def _tie(placing: Placing, position: int, inks: Sequence[LineInk]) -> None:
    """Tie a roll to the note after it: where a line ends between them, half on each."""
    line, following = placing.line_of(position), placing.line_of(position + 1)
    aside = TIE_FROM_UNITS * placing.scale
    start, end = placing.columns.x[position] + aside, placing.columns.x[position + 1] - aside
    if line == following:
        inks[line].outlines.append(_arc(start, end, placing.scale))
        return
    inks[line].outlines.append(_arc(start, placing.columns.ends_x[line], placing.scale))
    inks[following].outlines.append(_arc(end - 2 * aside, end, placing.scale))


def _arc(start: float, end: float, scale: float) -> str:
    """Draw a tie that hangs below the heads: two curves, thick in the middle."""
    share = min((end - start) / (TIE_MOST_UNITS * scale), 1.0)
    outer = TIE_DEPTH_UNITS * (0.45 + 0.55 * share) * scale
    inner = outer - TIE_WEIGHT_UNITS * scale
    quarter = (end - start) / 4
    there = (
        f"c{number(quarter)} {number(outer)} {number(3 * quarter)} {number(outer)} {number(4 * quarter)} 0"
    )
    back = (
        f"c{number(-quarter)} {number(inner)} {number(-3 * quarter)} {number(inner)} {number(-4 * quarter)} 0"
    )
    return f"M{number(start)} {number(TIE_DROP_UNITS * scale)}{there}{back}z"
