"""One line of music as one SVG element that needs nothing else.

Conventions: px-like units, the staff line at y 0 of an inner group. Everything is
``currentColor`` and nothing inside has an id, so that any number of engravings stand on
one page.
"""

from __future__ import annotations

from evenhand.engraving.bar_lines import bar_lines, count_text, repeat_dots
from evenhand.engraving.ink import Ink
from evenhand.engraving.letters_beneath import sticking_letters, stroke_letters
from evenhand.engraving.line import HEAD_UNITS, LineOfMusic
from evenhand.engraving.outlines import number
from evenhand.engraving.tempo_mark import tempo_mark

TEMPO_BASE_UNITS = 375.0  # the tempo mark's baseline below the top
STAFF_UNITS = 13.0


def write_line(line: LineOfMusic) -> str:
    """Return the line's ``<svg>`` element."""
    scale = line.placing.scale
    staff = Ink()
    staff.stroke([(0.0, 0.0), (line.end_x, 0.0)], STAFF_UNITS * scale)
    for bar_line in bar_lines(line):
        staff.filled(bar_line)
    box = f"0 0 {number(line.placing.columns.width)} {number(line.height)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{_id(line)} class="music" viewBox="{box}" role="img"',
        f' aria-label="{_label(line)}" fill="currentColor">',
        f'<g transform="translate(0 {number(line.staff_y)})">',
        f'<path d="{"".join(staff.corners)}"/>',
        f'<path d="{"".join(line.ink.corners)}"/>',
        f'<path d="{line.head}{"".join(line.ink.outlines)}{repeat_dots(line)}{line.marks.ties}"/>',
        *sticking_letters(line),
        stroke_letters(line),
        line.marks.numbers,
        count_text(line),
        "</g>",
    ]
    if line.wishes.tempo and line.is_first:
        x = line.placing.columns.x[0] - HEAD_UNITS * scale
        parts.append(tempo_mark(line.wishes.tempo, x=x, y=TEMPO_BASE_UNITS * scale, scale=scale))
    return "".join([*parts, "</svg>"])


def _id(line: LineOfMusic) -> str:
    prefix = line.wishes.id_prefix
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
