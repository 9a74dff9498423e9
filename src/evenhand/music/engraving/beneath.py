"""What stands below the staff, each kind on a line of its own: sticking, strokes, counting, dynamics.

Conventions: px; the engraver's units where a name says so. Letters are text of a generic serif, each centred
under its head; all of a kind stand on one baseline. A grace's letter is a small capital: l reads as 1.

Counting is common practice: beats by number, "e & a" between them, "trip let" in a quarter's triplet; in
compound and odd meters every eighth has its number. What falls between is not counted, rests are in brackets.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from evenhand.music.engraving.columns import Placing
from evenhand.music.engraving.extents import (
    DYNAMIC_SIGNS,
    DYNAMIC_SIZE,
    SWELL_GAP_UNITS,
    dynamic_units,
    letter_units,
)
from evenhand.music.engraving.ink import CAPITAL_EM, LineInk
from evenhand.music.engraving.notation import (
    EIGHTH,
    QUARTER,
    bars_of,
    beat_of,
    has_head,
    meter_at,
    offsets_in_bar,
)
from evenhand.music.engraving.stems import escaped, number
from evenhand.music.exercise import Exercise, Hand, Meter, Tempo
from evenhand.music.loudness import swell_stop


@dataclass(frozen=True, slots=True)
class EngravingOptions:
    """What stands around the notes. ``stroke_letters`` are by piece; a printed page's are ``large``."""

    tempo: Tempo | None = None
    id_prefix: str = ""
    show_sticking: bool = True
    repeat: int | None = None
    stroke_letters: Mapping[int, str] = field(default_factory=dict)
    large: bool = False


LETTER_EM_UNITS, LARGE_EM_UNITS = 230.0, 335.0  # size of the sticking letters; 9 pt where a px is 0.34 pt
GRACE_LETTER_EM_UNITS, LARGE_GRACE_EM_UNITS = 180.0, 262.0
LETTER_DROP_UNITS, LARGE_DROP_UNITS = 440.0, 500.0  # their baseline below the staff line
FOOT_ROOM_UNITS = 120.0  # more, under a foot's head, which hangs below the line
STROKE_LETTER_EM_UNITS = 190.0
STROKE_LETTER_DROP_UNITS = 235.0  # a further line's baseline below the one above it
DYNAMICS_DROP_UNITS = 330.0
NO_LETTERS_UNITS = 340.0  # room below the staff line where there are none: the meter fits
STROKE_LETTER_OPACITY = "0.62"
LETTER_HALF_EM = 0.36  # half of how wide a letter is
SWELL_HALF_UNITS, SWELL_WIDTH_UNITS = 70.0, 20.0
SWELL_UP_UNITS = 75.0  # its middle over the dynamics' baseline


@dataclass(frozen=True)
class Baselines:
    """The baselines below the staff line, engraver's units; None for a row that is not there."""

    sticking: float | None
    strokes: float | None
    counting: float | None
    dynamics: float | None
    foot: float


def rows_of(exercise: Exercise, options: EngravingOptions) -> Baselines:
    """Lay the rows one under another."""
    at, drop = 0.0, LARGE_DROP_UNITS if options.large else LETTER_DROP_UNITS
    drop += FOOT_ROOM_UNITS * any(note.sound == "foot" for note in exercise.notes)
    sticking = strokes = counting = dynamics = None
    if options.show_sticking:
        at = sticking = drop
    if options.stroke_letters:
        at = strokes = at + STROKE_LETTER_DROP_UNITS if at else drop
    if exercise.spelling.counted:
        at = counting = at + STROKE_LETTER_DROP_UNITS if at else drop
    if any(note.dynamic or note.swell for note in exercise.notes):
        at = dynamics = at + DYNAMICS_DROP_UNITS if at else drop
    return Baselines(sticking, strokes, counting, dynamics, at or NO_LETTERS_UNITS)


@dataclass(frozen=True)
class Beneath:
    """Writes the rows of one line: pieces from ``start`` to ``stop`` (excluded). ``counting`` is by piece."""

    placing: Placing
    options: EngravingOptions
    rows: Baselines
    counting: Mapping[int, str]
    ink: LineInk
    line: int
    start: int
    stop: int

    def texts(self) -> Iterator[str]:
        """Write the letters."""
        if self.rows.sticking is not None:
            yield from (self._of_hand(hand, self.rows.sticking) for hand in ("R", "L"))
        if self.rows.strokes is not None:
            asked = self.options.stroke_letters
            yield self._row("strokes", asked, self.rows.strokes)
        if self.rows.counting is not None:
            yield self._row("counting", self.counting, self.rows.counting)

    def _of_hand(self, hand: Hand, drop: float) -> str:
        """Write one hand's letters under their heads, its graces' small; B stands with the right."""
        large = self.options.large
        small = LARGE_GRACE_EM_UNITS if large else GRACE_LETTER_EM_UNITS
        size = LARGE_EM_UNITS if large else LETTER_EM_UNITS
        texts: list[str] = []
        for at in range(self.start, self.stop):
            note = self.placing.exercise.notes[at]
            if note.hand == hand:
                self.ink.of("letter", at)
                texts.append(self._letter(self.placing.columns.x[at], note.letter, drop, size))
            for grace, x in zip(note.graces, self.placing.grace_x(at), strict=True):
                if grace == hand:
                    self.ink.of("grace letter", at)
                    texts.append(self._letter(x, hand, drop, small, own_size=True))
        side = "right" if hand == "R" else "left"
        return self._group(f"sticking {side}", texts, drop, size, ' font-weight="bold"')

    def _group(self, name: str, texts: list[str], drop: float, em: float, style: str) -> str:
        """Put letters on their baseline."""
        if not texts:
            return ""
        scale = self.placing.scale
        style = f'font-family="serif"{style} font-size="{number(em * scale)}" text-anchor="middle"'
        return (
            f'<g class="{name}" {style} transform="translate(0 {number(drop * scale)})">{"".join(texts)}</g>'
        )

    def _letter(self, x: float, letter: str, drop: float, em: float, *, own_size: bool = False) -> str:
        scale = self.placing.scale
        half, y = LETTER_HALF_EM * len(letter) * em * scale, drop * scale
        self.ink.covers(x - half, y - CAPITAL_EM * em * scale, x + half, y)
        size = f' font-size="{number(em * scale)}"' if own_size else ""
        return f'<text x="{number(x)}"{size}>{escaped(letter)}</text>'

    def _row(self, name: str, words: Mapping[int, str], drop: float) -> str:
        """Write a quiet row of short texts."""
        texts: list[str] = []
        for at in range(self.start, self.stop):
            if words.get(at):
                self.ink.of(name, at)
                texts.append(
                    self._letter(self.placing.columns.x[at], words[at], drop, STROKE_LETTER_EM_UNITS)
                )
        return self._group(name, texts, drop, STROKE_LETTER_EM_UNITS, f' opacity="{STROKE_LETTER_OPACITY}"')

    def draw_dynamics(self) -> None:
        """Draw the dynamics' letters and the swells between them."""
        if self.rows.dynamics is None:
            return
        exercise, scale = self.placing.exercise, self.placing.scale
        for at in range(self.start, self.stop):
            if dynamic := exercise.notes[at].dynamic:
                x = self.placing.columns.x[at] - dynamic_units(dynamic) / 2 * scale
                for letter in dynamic:
                    self.ink.of("dynamic", at).glyph(
                        DYNAMIC_SIGNS[letter], (x, self.rows.dynamics * scale), DYNAMIC_SIZE
                    )
                    x += letter_units(letter) * scale
        for at, note in enumerate(exercise.notes):
            if note.swell:
                self._swell(at, swell_stop(exercise, at), self.rows.dynamics)

    def _swell(self, start: int, stop: int, drop: float) -> None:
        """Draw what of a swell lies on this line: two lines that open or close."""
        first, after = max(start, self.start), min(stop, self.stop)
        if first >= after:
            return
        exercise, columns, scale = self.placing.exercise, self.placing.columns, self.placing.scale
        left, dynamic = columns.x[first], exercise.notes[start].dynamic
        if first == start and dynamic:
            left += (dynamic_units(dynamic) / 2 + SWELL_GAP_UNITS) * scale
        right = columns.ends_x[self.line]
        if after < self.stop:
            ends = exercise.notes[after].dynamic
            right = columns.x[after] - ((dynamic_units(ends) / 2 if ends else 0.0) + SWELL_GAP_UNITS) * scale
        right = max(right, left + 4.0)
        shares = [0.0 if start == first else 0.5, 1.0 if stop == after else 0.5]
        if exercise.notes[start].swell == "dim":
            shares = [1 - share for share in shares]
        y, half = (drop - SWELL_UP_UNITS) * scale, SWELL_WIDTH_UNITS / 2 * scale
        for side in (-1, 1):
            a, b = (y + side * share * SWELL_HALF_UNITS * scale for share in shares)
            self.ink.of("swell", start).filled(
                ((left, a - half), (right, b - half), (right, b + half), (left, a + half))
            )


_OF_FOUR = ("", "e", "&", "a")
_OF_THREE = ("", "trip", "let")


def counting_of(exercise: Exercise) -> tuple[str, ...]:
    """Return each piece's counting syllable, "" where there is none.

    >>> from evenhand.music.text import parse_exercise
    >>> counting_of(parse_exercise("4/4 1/16: RLRL 1/8: R- 1/12: RLR 1/32: RL"))
    ('1', 'e', '&', 'a', '2', '(&)', '3', 'trip', 'let', '4', '')
    """
    out: list[str] = []
    bars = (*bars_of(exercise), len(exercise.notes))
    for first, stop in pairwise(bars):
        meter = meter_at(exercise, first)
        for at, offset in enumerate(offsets_in_bar(exercise, first, stop, meter), first):
            note, said = exercise.notes[at], _syllable(offset, meter)
            out.append("" if not said or note.held else said if has_head(note) else f"({said})")
    return tuple(out)


def _syllable(offset: Fraction, meter: Meter | None) -> str:
    """Say the place in a bar."""
    by_eighths = meter is not None and (meter.unit >= 8 or beat_of(meter) != QUARTER)
    beat = Fraction(1, meter.unit) if by_eighths and meter else QUARTER
    count, inside = divmod(offset, beat)
    if not inside:
        return str(int(count) + 1)
    share = inside / beat
    if by_eighths:
        return "&" if share == Fraction(1, 2) and beat == EIGHTH else ""
    if (share * 4).denominator == 1:
        return _OF_FOUR[int(share * 4)]
    return _OF_THREE[int(share * 3)] if (share * 3).denominator == 1 else ""
