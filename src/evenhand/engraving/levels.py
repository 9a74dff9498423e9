"""One height for all stems and beams of an exercise, and accents in a row over them.

Conventions: the engraver's units, y downwards; going up is negative. On a staff of one
line there is no reason for a stem to be longer than its neighbour's: beams lie level,
so that the eye reads the rhythm. They are raised where grace notes stand under them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from evenhand.engraving.outlines import bottom_and_top
from evenhand.engraving.shapes import Beam, Drawn, Glyph, Stroke

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
