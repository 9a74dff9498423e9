"""One line of music as one SVG element.

Conventions: px, x from the line's left edge, y from the staff line, downwards; the engraver's units where a
name says so. Without a number of times the exercise ends with a repeat sign and begins with none, as it is
heard: over and over. Everything is ``currentColor`` and nothing has an id, so that any number of engravings
stand on one page.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.music.engraving.barlines import count_text
from evenhand.music.engraving.beneath import EngravingOptions
from evenhand.music.engraving.columns import Placing
from evenhand.music.engraving.extents import HEAD_UNITS
from evenhand.music.engraving.ink import LineInk
from evenhand.music.engraving.score import DrawnScore
from evenhand.music.engraving.stems import number
from evenhand.music.engraving.tempo import tempo_mark
from evenhand.music.exercise import Note

TEMPO_BASE_UNITS = 375.0  # the tempo mark's baseline below the top
STAFF_UNITS = 13.0
SOUND_WORDS = {"rim": "rim", "cross": "cross-stick", "foot": "foot"}


@dataclass(frozen=True)
class LineOfMusic:
    """One line, ready to be written: pieces from ``start`` to ``stop`` (excluded)."""

    placing: Placing
    line: int
    start: int
    stop: int
    ink: LineInk
    letters: tuple[str, ...]
    staff_y: float
    height: float
    options: EngravingOptions
    score: DrawnScore

    @property
    def is_first(self) -> bool:
        """Tell whether the exercise begins here."""
        return self.line == 0

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
    scale, repeat = line.placing.scale, line.options.repeat
    staff = LineInk(scale)
    staff.box(0.0, -STAFF_UNITS / 2 * scale, line.end_x, STAFF_UNITS / 2 * scale)
    box = f"0 0 {number(line.placing.columns.width)} {number(line.height)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{_id(line)} class="music" viewBox="{box}" role="img"',
        f' aria-label="{_label(line)}" fill="currentColor">',
        f'<g transform="translate(0 {number(line.staff_y)})">',
        f'<path d="{"".join(staff.corners)}"/>',
        f'<path d="{"".join(line.ink.corners)}"/>',
        f'<path d="{"".join(line.ink.outlines)}"/>',
        *line.letters,
        *line.ink.texts,
        count_text(repeat, line.end_x, scale) if repeat and repeat > 1 and line.is_last else "",
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
    said = " ".join(word for at in range(line.start, line.stop) if (word := _said(line, at)))
    many = len(line.placing.columns.cuts)
    return f"Sticking: {said}" if many == 1 else f"Sticking, line {line.line + 1} of {many}: {said}"


def _said(line: LineOfMusic, at: int) -> str:
    """Say one note; a tied one says nothing."""
    note = line.placing.exercise.notes[at]
    if note.hand is None:
        return "" if note.held else "rest"
    roll = line.score.rolls.get(at)
    many = f"roll of {roll.strokes} from " if roll and roll.strokes else "roll from " if roll else ""
    return many + _words(note)


def _words(note: Note) -> str:
    """Say a note's marks in words, and its letters as they are typed."""
    words = ["ghost"] * note.ghost + ["both hands"] * note.both
    words += [SOUND_WORDS[note.sound]] if note.sound != "drum" else []
    words += [note.dynamic] if note.dynamic else []
    return " ".join([*words, "".join(note.graces).lower() + (note.hand or "")])
