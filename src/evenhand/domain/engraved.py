"""An engraved exercise: SVG lines whose notes' places are known, so that a chart can stand under them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class EngravedNote:
    """Where a note's head stands, in the line's own units from its left and top edge."""

    position: int
    x: float
    grace_x: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class EngravedLine:
    """One line of music. ``svg`` is a complete ``<svg>`` element with viewBox 0 0 width height.

    ``notes`` holds struck notes and rests in order; ``end_x`` is the closing bar line's place.
    """

    svg: str
    width: float
    height: float
    notes: tuple[EngravedNote, ...]
    end_x: float


@dataclass(frozen=True, slots=True)
class EngravedExercise:
    """The lines of music of one exercise."""

    lines: tuple[EngravedLine, ...]
