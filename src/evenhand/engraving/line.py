"""One line of music before it is written, and what is wished for besides the notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.domain.tempo import Tempo
from evenhand.engraving.ink import Ink
from evenhand.engraving.placing import Placing
from evenhand.engraving.roll_marks import RollMarks
from evenhand.engraving.short_rolls import Roll

HEAD_UNITS = 106.0  # half a head's width


@dataclass(frozen=True, slots=True)
class Wishes:
    """What stands around the notes. ``stroke_letters`` are by position."""

    tempo: Tempo | None = None
    id_prefix: str = ""
    show_sticking: bool = True
    repeat: int | None = None
    stroke_letters: Mapping[int, str] = field(default_factory=dict)


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
    wishes: Wishes
    rolls: Mapping[int, Roll]
    marks: RollMarks

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
