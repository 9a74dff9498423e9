"""What the engraver drew, taken apart: shapes that know which note they belong to.

Conventions: coordinates are the engraver's own units, y downwards, the staff line at
``Drawn.staff_y``. A shape's *owner* is the id of its note (``note-<position>``, a grace
``grace-<position>-<k>``, a left-over rest ``fill-<position>-<k>``). Beams and tuplet marks have
several notes: each of their points goes with the nearest.

From the engraver's places to ours: each note's shapes are moved into its column.

Conventions: the engraver's units in, px out; ``scale`` is px a unit. x is from the
line's left edge, y from the staff line, downwards.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate
from xml.etree import ElementTree as ET

from evenhand.errors import CannotEngrave
from evenhand.music.engraving.columns import Columns, graces_back
from evenhand.music.engraving.glyphs import bottom_and_top, middle
from evenhand.music.engraving.notation import shapes_of
from evenhand.music.exercise import Exercise

_NUMBERS = re.compile(r"-?\d+(?:\.\d+)?")
_MAIN = re.compile(r"note-\d+")
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"


@dataclass(frozen=True, slots=True)
class Glyph:
    """A glyph of the music font with its origin; ``scale`` is units a font unit."""

    owner: str
    code: str
    x: float
    y: float
    scale: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line with a width, in units."""

    owner: str
    points: tuple[tuple[float, float], ...]
    width: float


@dataclass(frozen=True, slots=True)
class Dot:
    """An augmentation dot."""

    owner: str
    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Beam:
    """A filled polygon; ``owners`` holds, for each of its points, the note it goes with."""

    owners: tuple[str, ...]
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A tuplet's number: a glyph that stands between its first and last note."""

    first: str
    last: str
    glyph: Glyph
    from_middle: float  # of the glyph's origin, units


@dataclass(frozen=True, slots=True)
class Bracket:
    """Half of a tuplet's bracket: from its ``owner`` at the end inwards to the number."""

    owner: str
    mark: Mark
    points: tuple[tuple[float, float], ...]
    middle: float  # of the tuplet's number, units
    width: float


@dataclass
class Drawn:
    """Everything in the music that is placed by us."""

    staff_y: float = 0.0
    heads: dict[str, float] = field(default_factory=dict)  # id -> x of the head's centre
    stems: dict[str, float] = field(default_factory=dict)  # id -> x of the stem
    beam_tops: dict[str, float] = field(default_factory=dict)  # id -> y of its beams' upper edge
    tops: dict[str, float] = field(default_factory=dict)  # id -> y of the stem's end, once levelled
    glyphs: list[Glyph] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    beams: list[Beam] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    brackets: list[Bracket] = field(default_factory=list)
    clef: list[Glyph] = field(default_factory=list)
    meter: list[Glyph] = field(default_factory=list)


def take_apart(svg: ET.Element) -> Drawn:
    """Collect the shapes of an engraved exercise.

    Raises
    ------
    CannotEngrave
        Where the drawing has no staff.
    """
    drawn = Drawn()
    staffs = [element for element in svg.iter(f"{_SVG}g") if element.get("class") == "staff"]
    if not staffs:
        raise CannotEngrave(got="the drawing has no staff")
    line = next(staffs[0].iter(f"{_SVG}path"))
    drawn.staff_y = _points(line)[0][1]
    for child in staffs[0]:
        if child.get("class") in {"clef", "meterSig"}:
            glyphs = [_glyph("", use) for use in child.iter(f"{_SVG}use")]
            (drawn.clef if child.get("class") == "clef" else drawn.meter).extend(glyphs)
    for staff in staffs:
        for child in staff:
            if child.get("class") == "layer":
                _walk(drawn, child)
    return drawn


def _walk(drawn: Drawn, element: ET.Element) -> None:
    """Visit a group: notes and rests own their shapes, beams and tuplets share theirs."""
    for child in element:
        kind = child.get("class", "")
        if kind in {"note", "rest"}:
            _note(drawn, child)
        elif kind in {"beam", "tuplet", "graceGrp"}:
            _walk(drawn, child)
            if kind == "beam":
                _beam(drawn, child)
            elif kind == "tuplet":
                _tuplet(drawn, child)


def _note(drawn: Drawn, element: ET.Element) -> None:
    owner = element.get("id", "")
    shapes = list(element.iter())
    glyphs = [_glyph(owner, use) for use in shapes if use.tag == f"{_SVG}use"]
    head = glyphs[0]
    drawn.heads[owner] = head.x + middle(head.code) * head.scale
    drawn.glyphs += glyphs
    for shape in shapes:
        if shape.tag == f"{_SVG}path" and shape.get("stroke-width"):
            points = _points(shape)
            drawn.stems.setdefault(owner, points[0][0])
            drawn.strokes.append(Stroke(owner, points, float(shape.attrib["stroke-width"])))
        elif shape.tag == f"{_SVG}ellipse":
            x, y, radius = (float(shape.attrib[name]) for name in ("cx", "cy", "rx"))
            drawn.dots.append(Dot(owner, x, y, radius))


def _beam(drawn: Drawn, element: ET.Element) -> None:
    """Tie each corner of a beam to the note whose stem is nearest."""
    owners = [child.get("id", "") for child in _notes_of(element)]
    stems = {owner: drawn.stems[owner] for owner in owners}
    for polygon in element.findall(f"{_SVG}polygon"):
        points = _pairs(polygon.attrib["points"])
        top = min(y for _, y in points)
        for owner in owners:
            drawn.beam_tops[owner] = min(top, drawn.beam_tops.get(owner, top))
        nearest = {x: _nearest(stems, x) for x in {x for x, _ in points}}
        drawn.beams.append(Beam(tuple(nearest[x] for x, _ in points), points))


def _tuplet(drawn: Drawn, element: ET.Element) -> None:
    """Keep a tuplet's number and bracket by its first and last note."""
    owners = [child.get("id", "") for child in element.iter()]
    heads = {owner: drawn.heads[owner] for owner in owners if _MAIN.fullmatch(owner)}
    number = next(child for child in element if child.get("class") == "tupletNum")
    glyphs = [_glyph("", use) for use in number.iter(f"{_SVG}use")]
    right = max(glyph.x + 2 * middle(glyph.code) * glyph.scale for glyph in glyphs)
    between = (min(glyph.x for glyph in glyphs) + right) / 2
    first, last = next(iter(heads)), next(reversed(heads))
    marks = [Mark(first, last, glyph, glyph.x - between) for glyph in glyphs]
    drawn.marks += marks
    for line in element.iter(f"{_SVG}polyline"):
        points = _points(line)
        owner = first if points[0][0] < between else last
        width = float(line.attrib["stroke-width"])
        drawn.brackets.append(Bracket(owner, marks[0], points, between, width))


def _notes_of(beam: ET.Element) -> Iterator[ET.Element]:
    """Yield a beam's own notes, not those of graces inside it."""
    for child in beam:
        if child.get("class") == "note" and _is_of(beam, child):
            yield child


def _is_of(beam: ET.Element, note: ET.Element) -> bool:
    """Tell whether a note hangs on a beam: a main note, or all in the beam are graces."""
    mains = any(child.get("id", "").startswith("note-") for child in beam if child.get("class") == "note")
    return note.get("id", "").startswith("note-") or not mains


def _nearest(places: dict[str, float], x: float) -> str:
    return min(places, key=lambda owner: abs(places[owner] - x))


def _glyph(owner: str, use: ET.Element) -> Glyph:
    code = use.attrib[_HREF].lstrip("#").split("-")[0]
    x, y, scale = (float(value) for value in _NUMBERS.findall(use.attrib["transform"])[:3])
    return Glyph(owner, code, x, y, scale)


def _points(shape: ET.Element) -> tuple[tuple[float, float], ...]:
    """Read the points of a path made of M and L, or of a polyline."""
    return _pairs(shape.get("d") or shape.get("points") or "")


def _pairs(text: str) -> tuple[tuple[float, float], ...]:
    values = [float(value) for value in _NUMBERS.findall(text)]
    return tuple(zip(values[::2], values[1::2], strict=False))


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
