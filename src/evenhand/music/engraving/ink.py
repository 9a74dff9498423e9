"""The ink of each line of music: outlines and filled corners in their final places.

Conventions: px, x from the line's left edge, y from the staff line, downwards. All
corners run clockwise, so that overlapping pieces of one path stay filled.

One height for all stems and beams of an exercise, and accents in a row over them.

Conventions: the engraver's units, y downwards; going up is negative. On a staff of one
line there is no reason for a stem to be longer than its neighbour's: beams lie level,
so that the eye reads the rhythm. They are raised where grace notes stand under them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

from evenhand.music.engraving.glyphs import bottom_and_top, number, placed
from evenhand.music.engraving.shapes import Beam, Bracket, Drawn, Glyph, Mark, Placing, Stroke

MARK_SIZE = 0.75  # of a tuplet's number, to its size as engraved
MARK_LIFT_UNITS = 20.0
MARK_GAP_UNITS = 43.0  # from a beam up to a tuplet number's foot
ACCENT_ROOM_UNITS = 242.0  # more, where an accent stands between them
ACCENT_NEAR_UNITS = 250.0  # so near it is in the number's way, middle to middle
BUZZ = "E22A"  # the z of a buzz roll; the engraver draws it on stems only
STEMLESS_BUZZ_UNITS = 250.0  # its place above a whole note
METER_APART_UNITS = 28.0
MUSIC_SIZE = 0.72  # engraver's units a font unit

Point = tuple[float, float]


@dataclass
class Ink:
    """What is filled on one line, as path data: music glyphs, and stems, beams and the like."""

    outlines: list[str] = field(default_factory=list)
    corners: list[str] = field(default_factory=list)
    top: float = 0.0  # highest ink, px from the staff line (negative: above)
    bottom: float = 0.0  # lowest ink

    def glyph(self, code: str, at: Point, scale: float) -> None:
        """Add a glyph of the music font; ``scale`` is px a font unit."""
        self.outlines.append(placed(code, *at, scale))
        low, high = bottom_and_top(code)
        self.top = min(self.top, at[1] - high * scale)
        self.bottom = max(self.bottom, at[1] - low * scale)

    def filled(self, points: Iterable[Point]) -> None:
        """Add a filled polygon."""
        corners = iter(points)
        x, y = next(corners)
        path = [f"M{number(x)} {number(y)}"]
        self.top = min(self.top, y)
        for to_x, to_y in corners:
            if to_y == y:
                path.append(f"H{number(to_x)}")
            elif to_x == x:
                path.append(f"V{number(to_y)}")
            else:
                path.append(f"L{number(to_x)} {number(to_y)}")
            x, y = to_x, to_y
            self.top = min(self.top, y)
        self.corners.append("".join([*path, "z"]))

    def stroke(self, points: Iterable[Point], width: float) -> None:
        """Add straight lines of a width, piece by piece."""
        corners = list(points)
        for start, end in pairwise(corners):
            self.filled(_box(start, end, width / 2))


def ink_of(placing: Placing) -> tuple[Ink, ...]:
    """Return the ink of every line, from what the engraver drew."""
    lines = tuple(Ink() for _ in placing.columns.cuts)
    drawn, scale = placing.drawn, placing.scale

    def line(owner: str) -> Ink:
        return lines[placing.line_of(int(owner.split("-")[1]))]

    for glyph in drawn.glyphs:
        at = placing.point(glyph.owner, glyph.x, glyph.y)
        line(glyph.owner).glyph(glyph.code, at, glyph.scale * scale)
    for stroke in drawn.strokes:
        points = [placing.point(stroke.owner, x, y) for x, y in stroke.points]
        line(stroke.owner).stroke(points, stroke.width * scale)
    for position, note in enumerate(placing.exercise.notes):
        if note.buzz and f"note-{position}" not in drawn.stems:
            at = (placing.columns.x[position], -STEMLESS_BUZZ_UNITS * scale)
            line(f"note-{position}").glyph(BUZZ, at, MUSIC_SIZE * scale)
    for dot in drawn.dots:
        disc = _disc(*placing.point(dot.owner, dot.x, dot.y), dot.radius * scale)
        line(dot.owner).outlines.append(disc)
    for beam in drawn.beams:
        corners = zip(beam.owners, beam.points, strict=True)
        line(beam.owners[0]).filled(placing.point(owner, x, y) for owner, (x, y) in corners)
    for mark in drawn.marks:
        size = MUSIC_SIZE * MARK_SIZE * scale
        x = _between(placing, mark) + mark.from_middle / mark.glyph.scale * size
        line(mark.first).glyph(
            mark.glyph.code, (x, placing.height(_mark_y(placing, mark) - MARK_LIFT_UNITS)), size
        )
    for bracket in drawn.brackets:
        line(bracket.owner).stroke(_bracket(placing, bracket), bracket.width * scale)
    return lines


def _between(placing: Placing, mark: Mark) -> float:
    """Return where a tuplet's number stands: in the middle of its first and last note."""
    return (placing.x[mark.first] + placing.x[mark.last]) / 2


def _mark_y(placing: Placing, mark: Mark) -> float:
    """Return a tuplet number's foot: clear of its beams, and of an accent that is in its way."""
    first, last = (int(owner.removeprefix("note-")) for owner in (mark.first, mark.last))
    drawn = placing.drawn
    tops = [top for at in range(first, last + 1) if (top := drawn.tops.get(f"note-{at}")) is not None]
    if not tops:
        return mark.glyph.y
    bracketed = any(
        (bracket.mark.first, bracket.mark.last) == (mark.first, mark.last) for bracket in drawn.brackets
    )
    between = _between(placing, mark)
    over_accent = any(
        placing.exercise.notes[at].accent
        and (bracketed or abs(placing.columns.x[at] - between) < ACCENT_NEAR_UNITS * placing.scale)
        for at in range(first, last + 1)
    )
    return min(tops) - MARK_GAP_UNITS - (ACCENT_ROOM_UNITS if over_accent else 0.0)


def _bracket(placing: Placing, bracket: Bracket) -> list[Point]:
    """Draw half a bracket from its outer note to the room around the number."""
    rise = _mark_y(placing, bracket.mark) - bracket.mark.glyph.y
    outer = [placing.point(bracket.owner, x, y + rise) for x, y in bracket.points[:-1]]
    x, y = bracket.points[-1]
    inner = _between(placing, bracket.mark) + (x - bracket.middle) * placing.scale
    return [*outer, (inner, placing.height(y + rise))]


def clef_and_meter(placing: Placing, clef_x: float, meter_x: float) -> tuple[str, str]:
    """Return the clef's and the meter's outlines, their left edges at these x."""
    drawn = placing.drawn
    apart = [replace(glyph, y=glyph.y + _apart(glyph.y - drawn.staff_y)) for glyph in drawn.meter]
    return _set_at(placing, drawn.clef, clef_x), _set_at(placing, apart, meter_x)


def _apart(y: float) -> float:
    """Return how far a meter's number moves off the only staff line, which would run through both."""
    return math.copysign(METER_APART_UNITS, y)


def _set_at(placing: Placing, glyphs: list[Glyph], left_x: float) -> str:
    left = min((glyph.x for glyph in glyphs), default=0.0)
    return "".join(
        placed(
            glyph.code,
            left_x + (glyph.x - left) * placing.scale,
            placing.height(glyph.y),
            glyph.scale * placing.scale,
        )
        for glyph in glyphs
    )


def _box(start: Point, end: Point, half: float) -> tuple[Point, ...]:
    """Return the corners of a line with a width."""
    (x, y), (to_x, to_y) = start, end
    length = math.hypot(to_x - x, to_y - y) or 1.0
    aside_x, aside_y = (to_y - y) / length * half, (x - to_x) / length * half
    return (
        (x + aside_x, y + aside_y),
        (to_x + aside_x, to_y + aside_y),
        (to_x - aside_x, to_y - aside_y),
        (x - aside_x, y - aside_y),
    )


def _disc(x: float, y: float, radius: float) -> str:
    r, across = number(radius), number(2 * radius)
    return f"M{number(x - radius)} {number(y)}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z"


ACCENT = "E4A0"
ON_STEM = frozenset({"E220", "E221", "E222", "E223", "E224", "E22A"})  # slashes and the z of a buzz
ACCENT_GAP_UNITS = 67.0  # between an accent and a beam or stem
GRACE_GAP_UNITS = 45.0  # between a grace note's top and a beam over it
LONGEST_SINGLE_UNITS = 600.0  # a stem without a beam is not made longer
_GRACE = re.compile(r"grace-(\d+)-\d+")


@dataclass(frozen=True)
class _Levels:
    """How far each main note's stem goes up (negative or 0), and where it then ends."""

    rise: dict[str, float]
    top: dict[str, float]


def level(drawn: Drawn) -> None:
    """Bring what was drawn to one level, in place."""
    levels = _levels_of(drawn)
    if any(levels.rise.values()):
        drawn.strokes = [_longer(stroke, levels) for stroke in drawn.strokes]
        drawn.beams = [_raised(beam, levels) for beam in drawn.beams]
        drawn.beam_tops = {owner: levels.top.get(owner, top) for owner, top in drawn.beam_tops.items()}
    drawn.glyphs = [_moved(glyph, levels) for glyph in drawn.glyphs]
    drawn.tops = levels.top


def _levels_of(drawn: Drawn) -> _Levels:
    """Choose the level: the highest there is, and higher where graces need it."""
    tops = {
        stroke.owner: min(y for _, y in stroke.points)
        for stroke in drawn.strokes
        if stroke.owner.startswith("note-")
    }
    tops |= {owner: top for owner, top in drawn.beam_tops.items() if owner in tops}
    if not tops:
        return _Levels({}, {})
    highest = min([*tops.values(), *(tops[owner] - lift for owner, lift in _lifts(drawn))])
    single = max(highest, drawn.staff_y - LONGEST_SINGLE_UNITS)
    ends = {owner: highest if owner in drawn.beam_tops else min(top, single) for owner, top in tops.items()}
    return _Levels({owner: ends[owner] - tops[owner] for owner in tops}, ends)


def _lifts(drawn: Drawn) -> Iterable[tuple[str, float]]:
    """Yield by how much a note's beam must be lifted off the graces that stand under it."""
    grace_tops: dict[str, float] = {}
    for owner, top in _tops_of_graces(drawn):
        grace_tops[owner] = min(grace_tops.get(owner, top), top)
    lowest: dict[str, float] = {}  # by note, the lower edge of the beams that reach it from the left
    for beam in drawn.beams if grace_tops else ():
        for owner in beam.owners:
            if owner != beam.owners[0] or len(set(beam.owners)) == 1:
                lowest[owner] = max([lowest.get(owner, 0.0), *(y for _, y in beam.points)])
    for owner, top in grace_tops.items():
        if owner in lowest:
            yield owner, max(0.0, lowest[owner] + GRACE_GAP_UNITS - top)


def _tops_of_graces(drawn: Drawn) -> Iterable[tuple[str, float]]:
    """Yield the upper edges of graces with the note that they lean on."""
    for stroke in drawn.strokes:
        if grace := _GRACE.match(stroke.owner):
            yield f"note-{grace[1]}", min(y for _, y in stroke.points)
    for glyph in drawn.glyphs:
        if grace := _GRACE.match(glyph.owner):
            yield f"note-{grace[1]}", glyph.y - bottom_and_top(glyph.code)[1] * glyph.scale


def _longer(stroke: Stroke, levels: _Levels) -> Stroke:
    """Lengthen a stem at its upper end."""
    rise = levels.rise.get(stroke.owner, 0.0)
    if not rise:
        return stroke
    top = min(y for _, y in stroke.points)
    return replace(stroke, points=tuple((x, y + rise if y == top else y) for x, y in stroke.points))


def _moved(glyph: Glyph, levels: _Levels) -> Glyph:
    """Move a flag with its stem's end, slashes half as far, and accents into their row."""
    rise = levels.rise.get(glyph.owner)
    if rise is None:
        return glyph
    if glyph.code == ACCENT:
        return replace(glyph, y=levels.top[glyph.owner] - ACCENT_GAP_UNITS)
    if glyph.code in ON_STEM:
        return replace(glyph, y=glyph.y + rise / 2)
    return replace(glyph, y=glyph.y + rise) if "E240" <= glyph.code <= "E25F" else glyph


def _raised(beam: Beam, levels: _Levels) -> Beam:
    return replace(beam, points=_up(beam.points, levels.rise.get(beam.owners[0], 0.0)))


def _up(points: tuple[tuple[float, float], ...], rise: float) -> tuple[tuple[float, float], ...]:
    return tuple((x, y + rise) for x, y in points)
