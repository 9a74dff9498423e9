"""The ink of each line of music: outlines and filled corners in their final places.

Conventions: px, x from the line's left edge, y from the staff line, downwards; names in ``_UNITS`` are the
engraver's units, and ``scale`` is px a unit. All corners run clockwise, so that overlapping pieces of one
path stay filled.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from evenhand.music.engraving.columns import Placing
from evenhand.music.engraving.notation import Beam, Group, NoteShape, Ratio, beams_of, flags_of, shapes_of
from evenhand.music.engraving.stems import (
    ACCENT,
    ACCENT_GAP_UNITS,
    BEAM_PITCH_UNITS,
    BEAM_UNITS,
    BUZZ,
    GRACE_BEAMS_TOP_UNITS,
    GRACE_SIZE,
    GRACE_STEM_UNITS,
    HEAD_HEIGHT_UNITS,
    LOWEST_BEAM_UNITS,
    MUSIC_SIZE,
    Stems,
    bottom_and_top,
    middle,
    number,
    on_stem,
    placed,
)
from evenhand.music.exercise import Meter

CLEF = "E069"
HEADS = {0: "E0A1", 1: "E0A2", 2: "E0A3"}
BLACK_HEAD = "E0A4"
RESTS = {
    0: "E4E2", 1: "E4E3", 2: "E4E4", 4: "E4E5", 8: "E4E6", 16: "E4E7", 32: "E4E8", 64: "E4E9", 128: "E4EA",
}  # fmt: skip
FLAGS = {1: "E240", 2: "E242", 3: "E244", 4: "E246", 5: "E248"}
STEM_X_UNITS, STEM_FOOT_UNITS, STEM_WIDTH_UNITS = 96.8, 30.0, 18.0  # right of a head's middle
GRACE_STEM_X_UNITS, GRACE_FOOT_UNITS = 70.4, 22.0
GRACE_SLASH_UNITS, GRACE_SLASH_WIDTH_UNITS = ((3.4, -118.0), (204.4, -319.0)), 21.0
GRACE_BEAM_UNITS, GRACE_BEAM_PITCH_UNITS = 67.0, 100.0
HOOK_UNITS = 194.0  # from the stem's edge
DOT_RADIUS_UNITS, DOT_UP_UNITS, DOT_APART_UNITS = 36.0, 90.0, 135.0
DOT_GAP_UNITS, FLAG_UNITS = 89.0, 152.0  # from a head's edge to its dot's middle; more beside a flag
LEDGER_UNITS, LEDGER_UP_UNITS, LEDGER_WIDTH_UNITS = 93.0, 180.0, 22.0  # over a breve's rest
STEMLESS_BUZZ_UNITS = 250.0  # its place above a whole note
METER_UP_UNITS = 208.0  # a meter's numbers off the only staff line, which would run through both
MARK_SIZE = 0.75  # of a tuplet's number, to the music's
MARK_GAP_UNITS = 63.0  # from a beam up to a tuplet number's foot
ACCENT_ROOM_UNITS = 242.0  # more, where an accent stands between them
ACCENT_NEAR_UNITS = 250.0  # so near it is in the number's way, middle to middle
BRACKET_UP_UNITS, BRACKET_HOOK_UNITS, BRACKET_GAP_UNITS = 117.0, 137.0, 151.5  # over its foot; to its middle

Point = tuple[float, float]


@dataclass
class LineInk:
    """What is filled on one line, as path data: music glyphs, and stems, beams and the like; and its text."""

    scale: float
    outlines: list[str] = field(default_factory=list)
    corners: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)  # as SVG
    top: float = 0.0  # highest ink, px from the staff line (negative: above)
    bottom: float = 0.0  # lowest ink

    def glyph(self, code: str, at: Point, size: float = MUSIC_SIZE) -> None:
        """Add a glyph of the music font; ``size`` is units a font unit."""
        size *= self.scale
        self.outlines.append(placed(code, *at, size))
        low, high = bottom_and_top(code)
        self.top = min(self.top, at[1] - high * size)
        self.bottom = max(self.bottom, at[1] - low * size)

    def centred(self, code: str, x: float, up_units: float = 0.0, size: float = MUSIC_SIZE) -> None:
        """Add a glyph with its middle at x."""
        self.glyph(code, (x - middle(code) * size * self.scale, -up_units * self.scale), size)

    def number(self, prefix: str, value: int, x: float, up_units: float, size: float = MUSIC_SIZE) -> None:
        """Add a number's digits with its middle at x."""
        codes = [f"{prefix}{digit}" for digit in str(value)]
        x -= sum(middle(code) for code in codes) * size * self.scale
        for code in codes:
            self.glyph(code, (x, -up_units * self.scale), size)
            x += 2 * middle(code) * size * self.scale

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

    def box(self, left: float, top: float, right: float, bottom: float) -> None:
        """Add an upright box."""
        self.filled(((left, top), (right, top), (right, bottom), (left, bottom)))

    def dot(self, x: float, y: float, radius: float) -> None:
        """Add a disc."""
        r, across = number(radius), number(2 * radius)
        self.outlines.append(
            f"M{number(x - radius)} {number(y)}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z"
        )


def ink_of(placing: Placing, stems: Stems) -> tuple[LineInk, ...]:
    """Return the ink of every line."""
    lines = tuple(LineInk(placing.scale) for _ in placing.columns.cuts)
    for position, note in enumerate(placing.exercise.notes):
        ink, x = lines[placing.line_of(position)], placing.columns.x[position]
        shape, *left_over = shapes_of(note.value)
        _graces(ink, placing.grace_x(position))
        if note.is_rest:
            _rest(ink, x, shape)
        else:
            _note(ink, x, position, shape, stems)
        for rest, rest_x in zip(left_over, placing.left_over_x(position), strict=True):
            _rest(ink, rest_x, rest)
    for beam in stems.beams:
        _beam(lines[placing.line_of(beam.first)], placing, beam, stems)
    for group in stems.groups:
        if group.ratio != Ratio():
            _tuplet(lines[placing.line_of(group.start)], placing, group, stems)
    return lines


def draw_openings(
    inks: Sequence[LineInk], meter: Meter | None, clef_units: float, meter_units: float
) -> None:
    """Draw every line's clef, and the meter before the first line, their left edges at these places."""
    for ink in inks:
        ink.glyph(CLEF, (clef_units * ink.scale, 0.0))
    if meter:
        both = ((meter.beats, METER_UP_UNITS), (meter.unit, -METER_UP_UNITS))
        half = max(sum(middle(f"E08{digit}") for digit in str(value)) for value, _ in both) * MUSIC_SIZE
        for value, up in both:
            inks[0].number("E08", value, (meter_units + half) * inks[0].scale, up)


def _note(ink: LineInk, x: float, position: int, shape: NoteShape, stems: Stems) -> None:
    """Draw a note with all that hangs on it but its beams."""
    head, flags = HEADS.get(shape.base, BLACK_HEAD), flags_of(stems.exercise, position)
    ink.centred(head, x)
    end, beamed = stems.ends.get(position), stems.is_beamed(position)
    flagged = bool(flags) and not beamed
    _dots(ink, x + (middle(head) * MUSIC_SIZE + FLAG_UNITS * flagged) * ink.scale, shape)
    on = on_stem(stems.exercise, position, stems.slashes)
    if end is None:
        if on:
            ink.glyph(BUZZ, (x, -STEMLESS_BUZZ_UNITS * ink.scale))
    else:
        _stem(ink, x + STEM_X_UNITS * ink.scale, STEM_FOOT_UNITS, -end - BEAM_UNITS / 2 * beamed)
        edge = x + (STEM_X_UNITS - STEM_WIDTH_UNITS / 2) * ink.scale
        if flagged:
            ink.glyph(FLAGS[flags], (edge, end * ink.scale))
        if on:
            between = (stems.free_top(position, end) - HEAD_HEIGHT_UNITS) / 2
            ink.glyph(on, (x + STEM_X_UNITS * ink.scale, between * ink.scale))
    if stems.exercise.notes[position].accent:
        ink.centred(ACCENT, x, ACCENT_GAP_UNITS - (-HEAD_HEIGHT_UNITS if end is None else end))


def _stem(ink: LineInk, x: float, foot_units: float, up_units: float) -> None:
    half = STEM_WIDTH_UNITS / 2 * ink.scale
    ink.box(x - half, -up_units * ink.scale, x + half, -foot_units * ink.scale)


def _rest(ink: LineInk, x: float, shape: NoteShape) -> None:
    code, scale = RESTS[shape.base], ink.scale
    ink.centred(code, x)
    if shape.base == 0:
        up, half = LEDGER_UP_UNITS * scale, LEDGER_WIDTH_UNITS / 2 * scale
        ink.box(x - LEDGER_UNITS * scale, -up - half, x + LEDGER_UNITS * scale, -up + half)
    _dots(ink, x + middle(code) * MUSIC_SIZE * scale, shape)


def _dots(ink: LineInk, edge: float, shape: NoteShape) -> None:
    """Draw the dots behind a head or rest that ends at ``edge``."""
    for dot in range(shape.dots):
        x = edge + (DOT_GAP_UNITS + dot * DOT_APART_UNITS) * ink.scale
        ink.dot(x, -DOT_UP_UNITS * ink.scale, DOT_RADIUS_UNITS * ink.scale)


def _graces(ink: LineInk, places: tuple[float, ...]) -> None:
    """Draw a flam's grace with a flag and a slash, a drag's with two beams."""
    scale, many = ink.scale, len(places) > 1
    stems = [x + GRACE_STEM_X_UNITS * scale for x in places]
    for x, stem_x in zip(places, stems, strict=True):
        ink.centred(BLACK_HEAD, x, size=GRACE_SIZE)
        _stem(ink, stem_x, GRACE_FOOT_UNITS, GRACE_STEM_UNITS)
    half = STEM_WIDTH_UNITS / 2 * scale
    if many:
        for level in range(2):
            top = (level * GRACE_BEAM_PITCH_UNITS - GRACE_BEAMS_TOP_UNITS) * scale
            ink.box(stems[0] - half, top, stems[-1] + half, top + GRACE_BEAM_UNITS * scale)
    elif places:
        ink.glyph(FLAGS[1], (stems[0] - half, -GRACE_STEM_UNITS * scale), GRACE_SIZE)
        aside = GRACE_SLASH_WIDTH_UNITS / 2 * 0.5**0.5  # the slash goes up at 45 degrees
        (left, foot), (right, top) = GRACE_SLASH_UNITS
        corners = ((left, foot, -1), (right, top, -1), (right, top, 1), (left, foot, 1))
        ink.filled(
            (places[0] + (x + side * aside) * scale, (y + side * aside) * scale) for x, y, side in corners
        )


def _beam(ink: LineInk, placing: Placing, beam: Beam, stems: Stems) -> None:
    scale, half = placing.scale, STEM_WIDTH_UNITS / 2
    left, right = (placing.columns.x[at] + STEM_X_UNITS * scale for at in (beam.first, beam.last))
    left -= (half + HOOK_UNITS * (beam.hook < 0)) * scale
    right += (half + HOOK_UNITS * (beam.hook > 0)) * scale
    top = (stems.ends[beam.first] + BEAM_PITCH_UNITS * beam.level) * scale
    ink.box(left, top, right, top + BEAM_UNITS * scale)


def _tuplet(ink: LineInk, placing: Placing, group: Group, stems: Stems) -> None:
    """Draw a tuplet's number, with a bracket where no beam holds it together."""
    x, scale, members = placing.columns.x, placing.scale, range(group.start, group.stop)
    between = (x[group.start] + x[group.stop - 1]) / 2
    bracketed = beams_of(placing.exercise, group) != ((group.start, group.stop - 1),)
    over_accent = any(
        placing.exercise.notes[at].accent and (bracketed or abs(x[at] - between) < ACCENT_NEAR_UNITS * scale)
        for at in members
    )
    top = min((stems.ends[at] for at in members if at in stems.ends), default=-LOWEST_BEAM_UNITS)
    foot = -top + MARK_GAP_UNITS + (ACCENT_ROOM_UNITS if over_accent else 0.0)
    ink.number("E88", group.ratio.num, between, foot, MUSIC_SIZE * MARK_SIZE)
    if bracketed:
        outer, gap = STEM_X_UNITS * scale, BRACKET_GAP_UNITS * scale
        _half_bracket(ink, x[group.start] - outer, between - gap, foot)
        _half_bracket(ink, x[group.stop - 1] + outer, between + gap, foot)


def _half_bracket(ink: LineInk, outer: float, inner: float, foot_units: float) -> None:
    """Draw half a bracket from its outer note to the room around the number."""
    half, top = STEM_WIDTH_UNITS / 2 * ink.scale, -(foot_units + BRACKET_UP_UNITS) * ink.scale
    ink.box(outer - half, top - half, outer + half, top + BRACKET_HOOK_UNITS * ink.scale)
    ink.box(min(outer, inner), top - half, max(outer, inner), top + half)
