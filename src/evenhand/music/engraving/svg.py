"""One line of music as one SVG element that needs nothing else.

Conventions: px-like units, the staff line at y 0 of an inner group. Everything is
``currentColor`` and nothing inside has an id, so that any number of engravings stand on
one page.

The letters beneath the heads: the sticking, and how each stroke is played.

Conventions: px, y from the staff line, downwards. Letters are text of a generic serif,
each centred under its head; all of a kind stand on one baseline.

The tempo mark above the first line: the beat's note, drawn, and its count.

The note that gets the beat as a small picture of its own, to stand in a line of text.
"""

from __future__ import annotations

from fractions import Fraction

from evenhand.music.engraving.ink import LineInk
from evenhand.music.engraving.line import (
    HEAD_UNITS,
    EngravingOptions,
    LineOfMusic,
    count_text,
    draw_bar_lines,
)
from evenhand.music.engraving.notation import NoteShape, ratio_of, shapes_of
from evenhand.music.engraving.stems import escaped, middle, number, placed
from evenhand.music.exercise import Hand, Tempo

LETTER_EM_UNITS = 230.0  # size of the sticking letters
LETTER_DROP_UNITS = 440.0  # their baseline below the staff line
GRACE_LETTER_EM_UNITS = 180.0
STROKE_LETTER_EM_UNITS = 190.0
STROKE_LETTER_DROP_UNITS = 235.0  # the stroke letters' baseline below the sticking's
NO_LETTERS_UNITS = 340.0  # room below the staff line where there are none: the meter fits
STROKE_LETTER_OPACITY = "0.62"


def drop_units(options: EngravingOptions) -> float:
    """Return how far below the staff line the lowest baseline lies, engraver's units."""
    if options.stroke_letters:
        return _stroke_drop(options)
    return LETTER_DROP_UNITS if options.show_sticking else NO_LETTERS_UNITS


def _stroke_drop(options: EngravingOptions) -> float:
    return LETTER_DROP_UNITS + (STROKE_LETTER_DROP_UNITS if options.show_sticking else 0.0)


def sticking_letters(line: LineOfMusic) -> tuple[str, ...]:
    """Write both hands' letters, or nothing where they are not wished for."""
    return (_of_hand(line, "R"), _of_hand(line, "L")) if line.options.show_sticking else ()


def _of_hand(line: LineOfMusic, hand: Hand) -> str:
    """Write one hand's letters under their heads, its graces' small."""
    texts: list[str] = []
    scale = line.placing.scale
    for position in range(line.start, line.stop):
        note = line.placing.exercise.notes[position]
        if note.hand == hand:
            texts.append(_letter(line.placing.columns.x[position], hand, ""))
        small = f' font-size="{number(GRACE_LETTER_EM_UNITS * scale)}"'
        for grace, x in zip(note.graces, line.placing.grace_x(position), strict=True):
            if grace == hand:
                texts.append(_letter(x, hand.lower(), small))
    if not texts:
        return ""
    size, drop = number(LETTER_EM_UNITS * scale), number(LETTER_DROP_UNITS * scale)
    side = "right" if hand == "R" else "left"
    style = f'font-family="serif" font-weight="bold" font-size="{size}" text-anchor="middle"'
    return f'<g class="sticking {side}" {style} transform="translate(0 {drop})">{"".join(texts)}</g>'


def stroke_letters(line: LineOfMusic) -> str:
    """Write how each stroke is played, quietly, under the sticking."""
    scale, asked_for = line.placing.scale, line.options.stroke_letters
    texts = [
        _letter(line.placing.columns.x[position], escaped(asked_for[position]), "")
        for position in range(line.start, line.stop)
        if asked_for.get(position)
    ]
    if not texts:
        return ""
    size, drop = number(STROKE_LETTER_EM_UNITS * scale), number(_stroke_drop(line.options) * scale)
    style = f'font-family="serif" font-size="{size}" text-anchor="middle" opacity="{STROKE_LETTER_OPACITY}"'
    return f'<g class="strokes" {style} transform="translate(0 {drop})">{"".join(texts)}</g>'


def _letter(x: float, letter: str, size: str) -> str:
    return f'<text x="{number(x)}"{size}>{letter}</text>'


_NOTES = {
    0: "ECA0",
    1: "ECA2",
    2: "ECA3",
    4: "ECA5",
    8: "ECA7",
    16: "ECA9",
    32: "ECAB",
    64: "ECAD",
    128: "ECAF",
}
_DOT = "ECB7"
_GLYPH_SCALE = 0.42  # of the music's own size
_EM_UNITS = 190.0
HEIGHT_UNITS = 370.0  # from the mark's baseline to the top of its stem


def tempo_mark(tempo: Tempo, *, x: float, y: float, scale: float) -> str:
    """Return the mark as SVG, its left edge at x and its baseline at y; ``scale`` is px a unit."""
    said = f"= {tempo.bpm:g}"
    outlines, x = beat_note(tempo.beat, x=x, y=y, scale=scale)
    if not outlines:
        said = str(tempo)
    size = number(_EM_UNITS * scale)
    text = f'<text class="tempo" x="{number(x)}" y="{number(y)}" font-family="serif" font-size="{size}">'
    return (f'<path d="{outlines}"/>' if outlines else "") + f"{text}{said}</text>"


def beat_note(beat: Fraction, *, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the note that gets the beat: its outline, and where the text behind it begins.

    Where no single note has that value (a triplet's), the outline is empty and the text begins at x.
    """
    shapes = shapes_of(beat)
    if len(shapes) != 1 or ratio_of(beat).num != 1:
        return "", x
    return _note(shapes[0], x, y, scale)


def _note(shape: NoteShape, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the beat's note with its dots; return its outline and where the text goes on."""
    size = scale * _GLYPH_SCALE
    code = _NOTES[shape.base]
    outlines = placed(code, x, y, size)
    x += 2 * middle(code) * size
    for _ in range(shape.dots):
        outlines += placed(_DOT, x + 60 * size, y, size)
        x += 160 * size
    return outlines, x + 150 * size


TEMPO_BASE_UNITS = 375.0  # the tempo mark's baseline below the top
STAFF_UNITS = 13.0


def write_line(line: LineOfMusic) -> str:
    """Return the line's ``<svg>`` element."""
    scale = line.placing.scale
    staff = LineInk(scale)
    staff.box(0.0, -STAFF_UNITS / 2 * scale, line.end_x, STAFF_UNITS / 2 * scale)
    draw_bar_lines(line, staff)
    box = f"0 0 {number(line.placing.columns.width)} {number(line.height)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{_id(line)} class="music" viewBox="{box}" role="img"',
        f' aria-label="{_label(line)}" fill="currentColor">',
        f'<g transform="translate(0 {number(line.staff_y)})">',
        f'<path d="{"".join(staff.corners)}"/>',
        f'<path d="{"".join(line.ink.corners)}"/>',
        f'<path d="{"".join(line.ink.outlines + staff.outlines)}"/>',
        *sticking_letters(line),
        stroke_letters(line),
        *line.ink.texts,
        count_text(line),
        "</g>",
    ]
    if line.options.tempo and line.is_first:
        x = line.placing.columns.x[0] - HEAD_UNITS * scale
        parts.append(tempo_mark(line.options.tempo, x=x, y=TEMPO_BASE_UNITS * scale, scale=scale))
    return "".join([*parts, "</svg>"])


def _id(line: LineOfMusic) -> str:
    prefix = line.options.id_prefix
    return f' id="{prefix}-{line.line + 1}"' if prefix else ""


def _label(line: LineOfMusic) -> str:
    """Say the line's sticking for a screen reader."""
    said = " ".join(_said(line, position) for position in range(line.start, line.stop))
    many = len(line.placing.columns.cuts)
    return f"Sticking: {said}" if many == 1 else f"Sticking, line {line.line + 1} of {many}: {said}"


def _said(line: LineOfMusic, position: int) -> str:
    """Say one note."""
    note = line.placing.exercise.notes[position]
    if note.hand is None:
        return "rest"
    roll = line.rolls.get(position)
    lead = f"roll of {roll.strokes} from " if roll else ""
    return lead + "".join(note.graces).lower() + note.hand


_SCALE = 0.1  # px a unit
_FOOT_UNITS = 50.0  # what hangs below the baseline: half a head
_GAP_UNITS = 63.0  # between a note and the text behind it, which the picture leaves to the text


def beat_picture(beat: Fraction) -> tuple[str, float, float] | None:
    """Draw the beat's note.

    Returns
    -------
    tuple of str and two floats, or None
        The picture as SVG, and its width and height as shares of a plain stem's height;
        None where no single note has that value (a triplet's).
    """
    outline, end = beat_note(beat, x=0.0, y=HEIGHT_UNITS * _SCALE, scale=_SCALE)
    if not outline:
        return None
    width, height = end / _SCALE - _GAP_UNITS, HEIGHT_UNITS + _FOOT_UNITS
    box = f"0 0 {number(width * _SCALE)} {number(height * _SCALE)}"
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}"><path d="{outline}"/></svg>'
    return svg, width / HEIGHT_UNITS, height / HEIGHT_UNITS
