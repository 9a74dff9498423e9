"""The letters beneath the heads: the sticking, and how each stroke is played.

Conventions: px, y from the staff line, downwards. Letters are text of a generic serif,
each centred under its head; all of a kind stand on one baseline.
"""

from __future__ import annotations

from evenhand.domain.exercise import Hand
from evenhand.engraving.line import LineOfMusic, Wishes
from evenhand.engraving.outlines import escaped, number

LETTER_EM_UNITS = 230.0  # size of the sticking letters
LETTER_DROP_UNITS = 440.0  # their baseline below the staff line
GRACE_LETTER_EM_UNITS = 180.0
STROKE_LETTER_EM_UNITS = 190.0
STROKE_LETTER_DROP_UNITS = 235.0  # the stroke letters' baseline below the sticking's
NO_LETTERS_UNITS = 340.0  # room below the staff line where there are none: the meter fits
STROKE_LETTER_OPACITY = "0.62"


def drop_units(wishes: Wishes) -> float:
    """Return how far below the staff line the lowest baseline lies, engraver's units."""
    if wishes.stroke_letters:
        return _stroke_drop(wishes)
    return LETTER_DROP_UNITS if wishes.show_sticking else NO_LETTERS_UNITS


def _stroke_drop(wishes: Wishes) -> float:
    return LETTER_DROP_UNITS + (STROKE_LETTER_DROP_UNITS if wishes.show_sticking else 0.0)


def sticking_letters(line: LineOfMusic) -> tuple[str, ...]:
    """Write both hands' letters, or nothing where they are not wished for."""
    return (_of_hand(line, "R"), _of_hand(line, "L")) if line.wishes.show_sticking else ()


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
    scale, wished = line.placing.scale, line.wishes.stroke_letters
    texts = [
        _letter(line.placing.columns.x[position], escaped(wished[position]), "")
        for position in range(line.start, line.stop)
        if wished.get(position)
    ]
    if not texts:
        return ""
    size, drop = number(STROKE_LETTER_EM_UNITS * scale), number(_stroke_drop(line.wishes) * scale)
    style = f'font-family="serif" font-size="{size}" text-anchor="middle" opacity="{STROKE_LETTER_OPACITY}"'
    return f'<g class="strokes" {style} transform="translate(0 {drop})">{"".join(texts)}</g>'


def _letter(x: float, letter: str, size: str) -> str:
    return f'<text x="{number(x)}"{size}>{letter}</text>'
