"""One line of music as one SVG element that needs nothing else.

Conventions: px-like units, the staff line at y 0 of an inner group. Everything is
``currentColor`` and nothing inside has an id, so that any number of engravings stand on
one page. Letters are text of a generic serif, each centred under its head.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.domain.exercise import Hand
from evenhand.domain.tempo import Tempo
from evenhand.engraving.ink import Ink
from evenhand.engraving.notation import bars_of
from evenhand.engraving.outlines import number
from evenhand.engraving.placing import Placing
from evenhand.engraving.tempo_mark import tempo_mark

LETTER_EM_UNITS = 230.0  # size of the sticking letters
LETTER_DROP_UNITS = 440.0  # their baseline below the staff line
GRACE_LETTER_EM_UNITS = 180.0
TEMPO_BASE_UNITS = 375.0  # the tempo mark's baseline below the top
HEAD_UNITS = 106.0  # half a head's width
HALF_BAR_LINE_UNITS = 180.0
STAFF_UNITS, THIN_UNITS, THICK_UNITS, DOT_UNITS = 13.0, 22.0, 72.0, 34.0
REPEAT_GAP_UNITS = 42.0  # between a repeat sign's parts


@dataclass(frozen=True)
class LineOfMusic:
    """One line, ready to be written: positions from ``start`` to ``stop`` (excluded)."""

    placing: Placing
    line: int
    start: int
    stop: int
    ink: Ink
    head: str  # outlines of what stands before the first note
    staff_y: float
    height: float
    tempo: Tempo | None
    show_sticking: bool
    id_prefix: str

    @property
    def is_last(self) -> bool:
        """Tell whether the exercise ends here."""
        return self.stop == len(self.placing.exercise.notes)

    @property
    def end_x(self) -> float:
        """Where the closing bar line stands, px."""
        return self.placing.columns.ends_x[self.line]


def write_line(line: LineOfMusic) -> str:
    """Return the line's ``<svg>`` element."""
    scale = line.placing.scale
    staff = Ink()
    staff.stroke([(0.0, 0.0), (line.end_x, 0.0)], STAFF_UNITS * scale)
    for bar_line in _bar_lines(line):
        staff.filled(bar_line)
    box = f"0 0 {number(line.placing.columns.width)} {number(line.height)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{_id(line)} class="music" viewBox="{box}" role="img"',
        f' aria-label="{_label(line)}" fill="currentColor">',
        f'<g transform="translate(0 {number(line.staff_y)})">',
        f'<path d="{"".join(staff.corners)}"/>',
        f'<path d="{"".join(line.ink.corners)}"/>',
        f'<path d="{line.head}{"".join(line.ink.outlines)}{_repeat_dots(line)}"/>',
    ]
    if line.show_sticking:
        parts += [_letters(line, "R"), _letters(line, "L")]
    parts.append("</g>")
    if line.tempo:
        x = line.placing.columns.x[0] - HEAD_UNITS * scale
        parts.append(tempo_mark(line.tempo, x=x, y=TEMPO_BASE_UNITS * scale, scale=scale))
    return "".join([*parts, "</svg>"])


def _id(line: LineOfMusic) -> str:
    return f' id="{line.id_prefix}-{line.line + 1}"' if line.id_prefix else ""


def _label(line: LineOfMusic) -> str:
    """Say the line's sticking for a screen reader."""
    notes = line.placing.exercise.notes[line.start : line.stop]
    said = " ".join(
        "rest" if note.hand is None else "".join(note.graces).lower() + note.hand for note in notes
    )
    many = len(line.placing.columns.cuts)
    return f"Sticking: {said}" if many == 1 else f"Sticking, line {line.line + 1} of {many}: {said}"


def _letters(line: LineOfMusic, hand: Hand) -> str:
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


def _letter(x: float, letter: str, size: str) -> str:
    return f'<text x="{number(x)}"{size}>{letter}</text>'


def _bar_lines(line: LineOfMusic) -> list[list[tuple[float, float]]]:
    """Return the corners of the bar lines inside the line and at its end."""
    scale = line.placing.scale
    thin, thick = THIN_UNITS * scale, THICK_UNITS * scale
    bars = {*bars_of(line.placing.exercise), len(line.placing.exercise.notes)}
    boxes = [
        _upright(_before(line, bar), thin, scale) for bar in sorted(bars) if line.start < bar < line.stop
    ]
    if line.is_last:
        left = line.end_x - thick - REPEAT_GAP_UNITS * scale
        boxes += [_upright(line.end_x, thick, scale), _upright(left, thin, scale)]
    elif line.stop in bars:
        boxes.append(_upright(line.end_x, thin, scale))
    return boxes


def _before(line: LineOfMusic, position: int) -> float:
    """Return a bar line's right edge: between two notes, left of the second's graces."""
    columns, scale = line.placing.columns, line.placing.scale
    first = min((columns.x[position], *line.placing.grace_x(position)))
    left, right = columns.x[position - 1] + HEAD_UNITS * scale, first - HEAD_UNITS * scale
    return max((left + right) / 2, right - 130 * scale) + THIN_UNITS * scale / 2


def _upright(right: float, width: float, scale: float) -> list[tuple[float, float]]:
    half = HALF_BAR_LINE_UNITS * scale
    return [(right - width, -half), (right, -half), (right, half), (right - width, half)]


def _repeat_dots(line: LineOfMusic) -> str:
    """Draw the two dots of the closing repeat sign."""
    if not line.is_last:
        return ""
    scale = line.placing.scale
    radius = DOT_UNITS * scale
    behind = THICK_UNITS + 2 * REPEAT_GAP_UNITS + THIN_UNITS + 2 * DOT_UNITS
    x, r, across = line.end_x - behind * scale, number(radius), number(2 * radius)
    return "".join(
        f"M{number(x)} {number(y * scale)}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z"
        for y in (-90.0, 90.0)
    )
