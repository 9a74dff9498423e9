"""The ink of each line of music: outlines and filled corners in their final places.

Conventions: px, x from the line's left edge, y from the staff line, downwards; names in ``_UNITS`` are the
engraver's units, and ``scale`` is px a unit. All corners run clockwise, so that overlapping pieces of one
path stay filled.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from evenhand.music.engraving.columns import Placing
from evenhand.music.engraving.extents import (
    BAR_GAP_UNITS,
    BRACKET_UNITS,
    DOT_APART_UNITS,
    DOT_GAP_UNITS,
    DOT_RADIUS_UNITS,
    FLAG_UNITS,
    FLAGS,
    HEAD_UNITS,
    RESTS,
    STEM_X_UNITS,
)
from evenhand.music.engraving.notation import Beam, Group, NoteShape, Ratio, flags_of, has_head, shape_at
from evenhand.music.engraving.stems import (
    ACCENT,
    ACCENT_GAP_UNITS,
    BEAM_PITCH_UNITS,
    BEAM_UNITS,
    GRACE_BEAMS_TOP_UNITS,
    GRACE_SIZE,
    GRACE_STEM_UNITS,
    HEAD_HEIGHT_UNITS,
    LOWEST_BEAM_UNITS,
    MUSIC_SIZE,
    ON_STEM_GAP_UNITS,
    STRONG,
    Stems,
    bottom_and_top,
    middle,
    number,
    on_stem,
    placed,
    sign_of,
)
from evenhand.music.exercise import Note

HEADS = {0: "E0A1", 1: "E0A2", 2: "E0A3"}
BLACK_HEAD = "E0A4"
OTHER_HEADS = {"cross": "E0A9", "rim": "E0B3"}  # a cross, a cross in a ring
FOOT_DOWN_UNITS = 180.0  # a foot's head hangs a space under the line
GHOST_BRACKETS = ("E0F5", "E0F6")
STEM_FOOT_UNITS, STEM_WIDTH_UNITS = 30.0, 18.0
GRACE_STEM_X_UNITS, GRACE_FOOT_UNITS = 70.4, 22.0
GRACE_SLASH_UNITS, GRACE_SLASH_WIDTH_UNITS = ((3.4, -118.0), (204.4, -319.0)), 21.0
GRACE_BEAM_UNITS, GRACE_BEAM_PITCH_UNITS = 67.0, 100.0
HOOK_UNITS = 194.0  # from the stem's edge
DOT_UP_UNITS = 90.0
LEDGER_UNITS, LEDGER_UP_UNITS, LEDGER_WIDTH_UNITS = 93.0, 180.0, 22.0  # over a breve's rest
MARK_SIZE = 0.75  # of a tuplet's number, to the music's
MARK_GAP_UNITS = 63.0  # from a beam up to a tuplet number's foot
FLAG_GAP_UNITS = 40.0  # more, over a stem with flags, whose tip is not level with a beam
ACCENT_ROOM_UNITS = 242.0  # more, where an accent stands between them
ACCENT_NEAR_UNITS = 250.0  # so near it is in the number's way, middle to middle
BRACKET_UP_UNITS, BRACKET_HOOK_UNITS, BRACKET_GAP_UNITS = 117.0, 137.0, 151.5  # over its foot; to its middle
TIE_FROM_UNITS, TIE_DROP_UNITS = 95.0, 95.0  # its ends beside the heads' middles and below the line
TIE_DEPTH_UNITS, TIE_WEIGHT_UNITS = 95.0, 34.0
TIE_MOST_UNITS = 700.0  # a longer tie gets no deeper

CAPITAL_EM = 0.7  # how high a capital or a digit stands

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class InkBox:
    """Where something is inked, px; ``kind`` says what, ``piece`` whose."""

    kind: str
    piece: int
    left: float
    top: float
    right: float
    bottom: float


@dataclass
class LineInk:
    """What is filled on one line, as path data: music glyphs, and stems, beams and the like; and its text.

    ``boxes`` are where each of them stands; ``kind`` and ``piece`` are what is being drawn.
    """

    scale: float
    outlines: list[str] = field(default_factory=list)
    corners: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)  # as SVG
    boxes: list[InkBox] = field(default_factory=list)
    top: float = 0.0  # highest ink, px from the staff line (negative: above)
    bottom: float = 0.0  # lowest ink
    kind: str = ""
    piece: int = -1

    def of(self, kind: str, piece: int = -1) -> LineInk:
        """Say what is drawn next."""
        self.kind, self.piece = kind, piece
        return self

    def covers(self, left: float, top: float, right: float, bottom: float) -> None:
        """Note where ink stands."""
        self.boxes.append(InkBox(self.kind, self.piece, left, top, right, bottom))
        self.top, self.bottom = min(self.top, top), max(self.bottom, bottom)

    def glyph(self, code: str, at: Point, size: float = MUSIC_SIZE) -> None:
        """Add a glyph of the music font; ``size`` is units a font unit."""
        size *= self.scale
        self.outlines.append(placed(code, *at, size))
        sign = sign_of(code)
        left, foot = at[0] + sign.left * size, at[1] - sign.bottom * size
        self.covers(left, foot - sign.height * size, left + sign.width * size, foot)

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
        corners = list(points)
        (x, y), *others = corners
        path = [f"M{number(x)} {number(y)}"]
        for to_x, to_y in others:
            if to_y == y:
                path.append(f"H{number(to_x)}")
            elif to_x == x:
                path.append(f"V{number(to_y)}")
            else:
                path.append(f"L{number(to_x)} {number(to_y)}")
            x, y = to_x, to_y
        self.corners.append("".join([*path, "z"]))
        across, down = zip(*corners, strict=True)
        self.covers(min(across), min(down), max(across), max(down))

    def box(self, left: float, top: float, right: float, bottom: float) -> None:
        """Add an upright box."""
        self.filled(((left, top), (right, top), (right, bottom), (left, bottom)))

    def dot(self, x: float, y: float, radius: float) -> None:
        """Add a disc."""
        r, across = number(radius), number(2 * radius)
        self.outlines.append(
            f"M{number(x - radius)} {number(y)}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z"
        )
        self.covers(x - radius, y - radius, x + radius, y + radius)

    def text(self, words: str, x: float, y: float, size: float, style: str, wide: float) -> None:
        """Add text whose baseline is at y; it is ``wide`` ems, and as high as a capital."""
        self.texts.append(
            f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" {style}>{words}</text>'
        )
        left = x - wide * size / 2 if "middle" in style else x
        self.covers(left, y - CAPITAL_EM * size, left + wide * size, y)


def ink_of(placing: Placing, stems: Stems, silent: frozenset[int] = frozenset()) -> tuple[LineInk, ...]:
    """Return the ink of every line; ``silent`` are rests for a whole bar."""
    lines = tuple(LineInk(placing.scale) for _ in placing.columns.cuts)
    for position, note in enumerate(placing.exercise.notes):
        ink, x = lines[placing.line_of(position)], placing.columns.x[position]
        shape = shape_at(placing.exercise, position)
        _graces(ink.of("grace", position), placing.grace_x(position))
        if has_head(note):
            _note(ink, x, position, shape, stems)
        elif position in silent:
            inside = (HEAD_UNITS + BAR_GAP_UNITS) * placing.scale
            last = position + 1 == len(placing.columns.x) or position + 1 in placing.columns.cuts
            before, after = x - inside, placing.next_x(position) - inside * (not last)
            _rest(ink.of("rest", position), (before + after) / 2, NoteShape(1))
        else:
            _rest(ink.of("rest", position), x, shape)
    for beam in stems.beams:
        _beam(lines[placing.line_of(beam.first)].of("beam", beam.first), placing, beam, stems)
    for group in stems.groups:
        if group.ratio != Ratio():
            _tuplet(lines[placing.line_of(group.start)].of("tuplet", group.start), placing, group, stems)
    for position in range(1, len(placing.exercise.notes)):
        if placing.exercise.notes[position].held or placing.exercise.notes[position - 1].tied:
            _tie(placing, position - 1, lines)
    return lines


def _tie(placing: Placing, position: int, inks: tuple[LineInk, ...]) -> None:
    """Tie a note to the next: where a line ends between them, half on each."""
    line, following = placing.line_of(position), placing.line_of(position + 1)
    aside, foot = TIE_FROM_UNITS * placing.scale, placing.exercise.notes[position].sound == "foot"
    down = FOOT_DOWN_UNITS if foot else 0.0
    clear = [
        BRACKET_UNITS * note.ghost * placing.scale for note in placing.exercise.notes[position : position + 2]
    ]
    start = placing.columns.x[position] + aside + clear[0]
    end = placing.columns.x[position + 1] - aside - clear[1]
    if line == following:
        _arc(inks[line].of("tie", position), start, end, down)
        return
    _arc(inks[line].of("tie", position), start, placing.columns.ends_x[line], down)
    _arc(inks[following].of("tie", position + 1), end - 1.1 * aside, end, down)


def _arc(ink: LineInk, start: float, end: float, down: float) -> None:
    """Draw a tie that hangs below the heads: two curves, thick in the middle."""
    start, end = min(start, end - 2.0), max(end, start + 2.0)
    share = min((end - start) / (TIE_MOST_UNITS * ink.scale), 1.0)
    outer = TIE_DEPTH_UNITS * (0.45 + 0.55 * share) * ink.scale
    inner = outer - TIE_WEIGHT_UNITS * ink.scale
    quarter = (end - start) / 4
    there = (
        f"c{number(quarter)} {number(outer)} {number(3 * quarter)} {number(outer)} {number(4 * quarter)} 0"
    )
    back = (
        f"c{number(-quarter)} {number(inner)} {number(-3 * quarter)} {number(inner)} {number(-4 * quarter)} 0"
    )
    y = (TIE_DROP_UNITS + down) * ink.scale
    ink.outlines.append(f"M{number(start)} {number(y)}{there}{back}z")
    ink.covers(start, y, end, y + 0.75 * outer)


def _note(ink: LineInk, x: float, position: int, shape: NoteShape, stems: Stems) -> None:
    """Draw a note with all that hangs on it but its beams."""
    note, flags = stems.exercise.notes[position], flags_of(stems.exercise, position)
    head = OTHER_HEADS.get(note.sound) or HEADS.get(shape.base, BLACK_HEAD)
    down = FOOT_DOWN_UNITS if note.sound == "foot" else 0.0
    ink.of("head", position).centred(head, x, -down)
    end, beamed = stems.ends.get(position), stems.is_beamed(position)
    flagged = bool(flags) and not beamed
    _ghost(ink.of("bracket", position), x, note, down)
    edge = x + HEAD_UNITS * ink.scale + (FLAG_UNITS * flagged + BRACKET_UNITS * note.ghost) * ink.scale
    _dots(ink.of("dot", position), edge, shape, down)
    on = on_stem(stems.exercise, position, stems.slashes)
    if end is None:
        if on:
            low, _ = bottom_and_top(on)
            up = HEAD_HEIGHT_UNITS + ON_STEM_GAP_UNITS - low * MUSIC_SIZE
            ink.of("roll", position).glyph(on, (x, -up * ink.scale))
    else:
        _stem(
            ink.of("stem", position),
            x + STEM_X_UNITS * ink.scale,
            STEM_FOOT_UNITS - down,
            -end - BEAM_UNITS / 2 * beamed,
        )
        left = x + (STEM_X_UNITS - STEM_WIDTH_UNITS / 2) * ink.scale
        if flagged:
            ink.of("flag", position).glyph(FLAGS[flags], (left, end * ink.scale))
        if on:
            between = (stems.free_top(position, end) - HEAD_HEIGHT_UNITS) / 2
            ink.of("roll", position).glyph(on, (x + STEM_X_UNITS * ink.scale, between * ink.scale))
    if note.accent:
        over = ACCENT_GAP_UNITS - (-HEAD_HEIGHT_UNITS if end is None else end)
        ink.of("accent", position).centred(STRONG if note.strong else ACCENT, x, over)


def _ghost(ink: LineInk, x: float, note: Note, down: float) -> None:
    """Put a ghost note into brackets."""
    if note.ghost:
        left, right = GHOST_BRACKETS
        aside = HEAD_UNITS + BRACKET_UNITS * 0.59
        ink.centred(left, x - aside * ink.scale, -down)
        ink.centred(right, x + aside * ink.scale, -down)


def _stem(ink: LineInk, x: float, foot_units: float, up_units: float) -> None:
    half = STEM_WIDTH_UNITS / 2 * ink.scale
    ink.box(x - half, -up_units * ink.scale, x + half, -foot_units * ink.scale)


def _rest(ink: LineInk, x: float, shape: NoteShape) -> None:
    code, scale = RESTS[shape.base], ink.scale
    ink.centred(code, x)
    if shape.base == 0:
        up, half = LEDGER_UP_UNITS * scale, LEDGER_WIDTH_UNITS / 2 * scale
        ink.box(x - LEDGER_UNITS * scale, -up - half, x + LEDGER_UNITS * scale, -up + half)
    _dots(ink.of("dot", ink.piece), x + middle(code) * MUSIC_SIZE * scale, shape)


def _dots(ink: LineInk, edge: float, shape: NoteShape, down: float = 0.0) -> None:
    """Draw the dots behind a head or rest that ends at ``edge``."""
    for dot in range(shape.dots):
        x = edge + (DOT_GAP_UNITS + dot * DOT_APART_UNITS) * ink.scale
        ink.dot(x, (down - DOT_UP_UNITS) * ink.scale, DOT_RADIUS_UNITS * ink.scale)


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
    """Draw a tuplet's number, with a bracket where no beam shows which notes it counts."""
    x, scale, members = placing.columns.x, placing.scale, range(group.start, group.stop)
    between = (x[group.start] + x[group.stop - 1]) / 2
    shown = any(beam.first == group.start and beam.last == group.stop - 1 for beam in stems.beams)
    bracketed = not shown and len(members) > 1
    over_accent = any(
        placing.exercise.notes[at].accent and (bracketed or abs(x[at] - between) < ACCENT_NEAR_UNITS * scale)
        for at in members
    )
    top = min((stems.ends[at] for at in members if at in stems.ends), default=-LOWEST_BEAM_UNITS)
    flagged = FLAG_GAP_UNITS * any(
        flags_of(placing.exercise, at) and not stems.is_beamed(at) for at in members
    )
    foot = -top + MARK_GAP_UNITS + flagged + (ACCENT_ROOM_UNITS if over_accent else 0.0)
    ink.number("E88", group.ratio.num, between, foot, MUSIC_SIZE * MARK_SIZE)
    if bracketed:
        outer, gap = STEM_X_UNITS * scale, BRACKET_GAP_UNITS * scale
        _half_bracket(ink, x[group.start] - outer, min(between - gap, x[group.stop - 1]), foot)
        _half_bracket(ink, x[group.stop - 1] + outer, max(between + gap, x[group.start]), foot)


def _half_bracket(ink: LineInk, outer: float, inner: float, foot_units: float) -> None:
    """Draw half a bracket from its outer note to the room around the number."""
    half, top = STEM_WIDTH_UNITS / 2 * ink.scale, -(foot_units + BRACKET_UP_UNITS) * ink.scale
    ink.box(outer - half, top - half, outer + half, top + BRACKET_HOOK_UNITS * ink.scale)
    ink.box(min(outer, inner), top - half, max(outer, inner), top + half)
