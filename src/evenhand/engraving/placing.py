"""From the engraver's places to ours: each note's shapes are moved into its column.

Conventions: the engraver's units in, px out; ``scale`` is px a unit. x is from the
line's left edge, y from the staff line, downwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from evenhand.domain.exercise import Exercise
from evenhand.engraving.columns import Columns, graces_back
from evenhand.engraving.notation import shapes_of
from evenhand.engraving.outlines import bottom_and_top
from evenhand.engraving.shapes import Drawn, Glyph


@dataclass(frozen=True)
class Placing:
    """Where every owner of shapes stands."""

    exercise: Exercise
    drawn: Drawn
    columns: Columns
    scale: float

    @cached_property
    def x(self) -> dict[str, float]:
        """Where each owner's centre stands, px."""
        places: dict[str, float] = {}
        for position, x in enumerate(self.columns.x):
            places[f"note-{position}"] = x
            for k, grace_x in enumerate(self.grace_x(position)):
                places[f"grace-{position}-{k}"] = grace_x
            for k, rest_x in enumerate(self._left_over_x(position), start=1):
                places[f"fill-{position}-{k}"] = rest_x
        return places

    def grace_x(self, position: int) -> tuple[float, ...]:
        """Return where a note's graces stand, px, in order."""
        graces = self.exercise.notes[position].graces
        if not graces:
            return ()
        back = graces_back(len(graces))
        return tuple(self.columns.x[position] - units * self.scale for units in back)

    def _left_over_x(self, position: int) -> Iterator[float]:
        """Yield where the rests stand that fill up a note, by their share of its column."""
        shapes = shapes_of(self.exercise.notes[position].value)
        if len(shapes) == 1:
            return
        lengths = [shape.length for shape in shapes]
        room = self.next_x(position) - self.columns.x[position]
        for before in list(accumulate(lengths))[:-1]:
            yield self.columns.x[position] + room * float(before / sum(lengths))

    def next_x(self, position: int) -> float:
        """Return where the column after a note begins, px: the next note or the line's end."""
        following = position + 1
        if following < len(self.columns.x) and self.line_of(following) == self.line_of(position):
            return self.columns.x[following]
        return self.columns.ends_x[self.line_of(position)]

    def line_of(self, position: int) -> int:
        """Return the line a note stands on, from 0."""
        return self._lines[position]

    @cached_property
    def _lines(self) -> list[int]:
        openings = set(self.columns.cuts)
        return [line - 1 for line in accumulate(int(p in openings) for p in range(len(self.columns.x)))]

    def point(self, owner: str, x: float, y: float) -> tuple[float, float]:
        """Move a point that goes with an owner."""
        return self.x[owner] + (x - self.drawn.heads[owner]) * self.scale, self.height(y)

    def height(self, y: float) -> float:
        """Turn an engraver's y into px from the staff line."""
        return (y - self.drawn.staff_y) * self.scale

    def top_of(self, glyph: Glyph) -> float:
        """Return a glyph's upper edge, px from the staff line."""
        return self.height(glyph.y - bottom_and_top(glyph.code)[1] * glyph.scale)

    def top_over(self, position: int) -> float:
        """Return the upper edge of all that belongs to a note, px from the staff line."""
        owner = f"note-{position}"
        tops = [self.top_of(glyph) for glyph in self.drawn.glyphs if glyph.owner == owner]
        tops += [
            self.height(y) for stroke in self.drawn.strokes if stroke.owner == owner for _, y in stroke.points
        ]
        if owner in self.drawn.beam_tops:
            tops.append(self.height(self.drawn.beam_tops[owner]))
        return min(tops)
