"""What a short roll carries: its number of strokes over it, and the tie to its last note.

Conventions: px, x from the line's left edge, y from the staff line, downwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenhand.engraving.outlines import number
from evenhand.engraving.placing import Placing
from evenhand.engraving.short_rolls import Roll

NUMBER_EM_UNITS = 200.0
NUMBER_GAP_UNITS = 60.0  # between the number's foot and what it stands over
DIGIT_HEIGHT_EM = 0.7
TIE_FROM_UNITS, TIE_DROP_UNITS = 95.0, 95.0  # its ends beside the heads' middles and below the line
TIE_DEPTH_UNITS, TIE_WEIGHT_UNITS = 95.0, 34.0
TIE_MOST_UNITS = 700.0  # a longer tie gets no deeper


@dataclass
class RollMarks:
    """One line's marks: ties as path data, numbers as text."""

    ties: str = ""
    numbers: str = ""


@dataclass
class Marks:
    """All lines' marks, and their highest ink, px from the staff line (negative: above)."""

    lines: tuple[RollMarks, ...]
    top: float = 0.0


def roll_marks(placing: Placing, rolls: Mapping[int, Roll]) -> Marks:
    """Draw the marks of every short roll."""
    marks = Marks(tuple(RollMarks() for _ in placing.columns.cuts))
    for position, roll in rolls.items():
        line = placing.line_of(position)
        foot = placing.top_over(position) - NUMBER_GAP_UNITS * placing.scale
        marks.lines[line].numbers += _number(placing, position, roll, foot)
        marks.top = min(marks.top, foot - NUMBER_EM_UNITS * DIGIT_HEIGHT_EM * placing.scale)
        _tie(placing, position, marks)
    return marks


def _number(placing: Placing, position: int, roll: Roll, foot: float) -> str:
    size = number(NUMBER_EM_UNITS * placing.scale)
    x = number(placing.columns.x[position])
    style = f'font-family="serif" font-size="{size}" text-anchor="middle"'
    return f'<text class="roll" x="{x}" y="{number(foot)}" {style}>{roll.strokes}</text>'


def _tie(placing: Placing, position: int, marks: Marks) -> None:
    """Tie a roll to the note after it: where a line ends between them, half on each."""
    line, following = placing.line_of(position), placing.line_of(position + 1)
    aside = TIE_FROM_UNITS * placing.scale
    start, end = placing.columns.x[position] + aside, placing.columns.x[position + 1] - aside
    if line == following:
        marks.lines[line].ties += _arc(start, end, placing.scale)
        return
    marks.lines[line].ties += _arc(start, placing.columns.ends_x[line], placing.scale)
    marks.lines[following].ties += _arc(end - 2 * aside, end, placing.scale)


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
