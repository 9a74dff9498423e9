"""What stands between and around the notes on the staff: clef, meters, bar lines, repeat signs and endings.

Conventions: px, x from the line's left edge, y from the staff line, downwards; the engraver's units where a
name says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.music.engraving.columns import Placing
from evenhand.music.engraving.extents import (
    BAR_DOT_UNITS,
    BAR_GAP_UNITS,
    GAP_UNITS,
    HEAD_UNITS,
    METER_GAP_UNITS,
    PLUS_FONT_UNITS,
    REPEAT_GAP_UNITS,
    SIGN_UNITS,
    THICK_UNITS,
    THIN_UNITS,
    Extents,
    digits_units,
)
from evenhand.music.engraving.ink import LineInk
from evenhand.music.engraving.score import DrawnScore
from evenhand.music.engraving.stems import MUSIC_SIZE, middle, number
from evenhand.music.exercise import Exercise, Meter

CLEF = "E069"
CLEF_UNITS = 2.0 / 0.07
METER_UNITS = 26.0 / 0.07
METER_UP_UNITS = 208.0  # a meter's numbers off the only staff line, which would run through both
LEFT_UNITS, LEFT_WITH_METER_UNITS = 40.0 / 0.07, 64.0 / 0.07  # the first note's middle, at least
FIRST_GAP_UNITS = 110.0  # between a meter of two digits and the first note's head
HALF_BAR_LINE_UNITS = 180.0
DOTS_UNITS = 90.0  # above and below the staff line
START_UNITS = SIGN_UNITS + 80.0  # a repeat sign with the room behind it
PLUS_ARM_UNITS, PLUS_WIDTH_UNITS = 62.0, 24.0
ENDING_UP_UNITS = 60.0  # an ending's bracket over all that stands below it
ENDING_HOOK_UNITS, ENDING_WIDTH_UNITS, ENDING_EM_UNITS = 150.0, 18.0, 200.0


def start_units(repeat: int | None) -> float:
    """Return the room that opening repeat sign takes, engraver's units."""
    return START_UNITS if repeat is not None and repeat > 1 else 0.0


def left_units(extents: Extents, at: int, repeat: int | None) -> float:
    """Return where the first note of a line stands that opens at a piece: behind its own signs."""
    meter = extents.exercise.meter if at == 0 else extents.meters.get(at)
    back = max(extents.left(at) - HEAD_UNITS, 0.0) + START_UNITS * (at in extents.opens)
    if at == 0:
        return back + start_units(repeat) + (_with_meter(meter) if meter else LEFT_UNITS)
    back += extents.after_sign(at)
    return back + LEFT_UNITS + (digits_units(meter) + METER_GAP_UNITS if meter else 0.0)


def _with_meter(meter: Meter) -> float:
    return max(LEFT_WITH_METER_UNITS, METER_UNITS + digits_units(meter) + FIRST_GAP_UNITS + HEAD_UNITS)


@dataclass(frozen=True)
class Barlines:
    """Draws the signs of one line: pieces from ``start`` to ``stop`` (excluded)."""

    placing: Placing
    extents: Extents
    score: DrawnScore
    ink: LineInk
    line: int
    start: int
    stop: int
    repeat: int | None

    @property
    def end_x(self) -> float:
        """Where the closing bar line stands, px."""
        return self.placing.columns.ends_x[self.line]

    def draw(self) -> None:
        """Draw clef, meters, bar lines and repeat signs."""
        scale, exercise = self.ink.scale, self.placing.exercise
        self.ink.of("clef").glyph(CLEF, (CLEF_UNITS * scale, 0.0))
        if self.line == 0 and exercise.meter:
            draw_meter(self.ink.of("meter"), exercise.meter, METER_UNITS * scale)
        self._open()
        for bar in sorted(self.extents.bars):
            if self.start < bar < self.stop:
                self._between(bar)
        self._close(exercise)

    def _open(self) -> None:
        """Draw what stands at the line's beginning: a meter that changes, a repeat sign."""
        scale = self.ink.scale
        x = self._first(self.start) - BAR_GAP_UNITS * scale
        if self.line:
            x -= self.extents.after_sign(self.start) * scale
        if (self.line == 0 and start_units(self.repeat)) or self.start in self.score.opens:
            left = x - (START_UNITS - 80.0 + 25.0) * scale
            self.ink.of("bar line", self.start)
            self._opening_sign(left)
            x = left - METER_GAP_UNITS * scale
        meter = self.extents.meters.get(self.start)
        if self.line and meter:
            draw_meter(self.ink.of("meter", self.start), meter, x - digits_units(meter) * scale)

    def _first(self, position: int) -> float:
        """Return a piece's left edge, px."""
        return self.placing.columns.x[position] - self.extents.left(position) * self.ink.scale

    def _between(self, bar: int) -> None:
        """Draw the bar line before a piece, and what stands with it; right-aligned to the piece."""
        scale, ink = self.ink.scale, self.ink.of("bar line", bar)
        x, left = self._first(bar), self.placing.columns.x[bar - 1] + self.extents.right(bar - 1) * scale
        x -= (BAR_GAP_UNITS + self.extents.after_sign(bar)) * scale
        meter = self.extents.meters.get(bar)
        if bar in self.score.opens:
            x -= SIGN_UNITS * scale
            self._opening_sign(x)
        if meter:
            x -= (digits_units(meter) + GAP_UNITS * (bar in self.score.opens)) * scale
            draw_meter(self.ink.of("meter", bar), meter, x)
            x -= METER_GAP_UNITS * scale
        ink.of("bar line", bar)
        if bar in self.score.closes:
            self._closing_sign(x, self.score.closes[bar])
        elif bar not in self.score.opens or meter:
            middle_x = (left + x + THIN_UNITS * scale) / 2
            self._upright(x if meter else max(middle_x, min(x, x - 30 * scale)), THIN_UNITS)

    def _close(self, exercise: Exercise) -> None:
        scale, end, last = self.ink.scale, self.end_x, self.stop == len(exercise.notes)
        self.ink.of("bar line", self.stop)
        if last:
            if self.stop in self.score.closes and self.repeat is None:
                self._closing_sign(end, self.score.closes[self.stop])
                return
            self._upright(end, THICK_UNITS)
            self._upright(end - (THICK_UNITS + REPEAT_GAP_UNITS) * scale, THIN_UNITS)
            if self.repeat != 1:
                self._dots(end - SIGN_UNITS * scale)
        elif self.stop in self.score.closes:
            self._closing_sign(end, self.score.closes[self.stop])
        elif self.stop in self.extents.bars:
            self._upright(end, THIN_UNITS)

    def _opening_sign(self, left: float) -> None:
        scale = self.ink.scale
        self._upright(left + THICK_UNITS * scale, THICK_UNITS)
        self._upright(left + (THICK_UNITS + REPEAT_GAP_UNITS + THIN_UNITS) * scale, THIN_UNITS)
        self._dots(left + (SIGN_UNITS - 2 * BAR_DOT_UNITS) * scale)

    def _closing_sign(self, right: float, times: int) -> None:
        scale = self.ink.scale
        self._upright(right, THICK_UNITS)
        self._upright(right - (THICK_UNITS + REPEAT_GAP_UNITS) * scale, THIN_UNITS)
        self._dots(right - SIGN_UNITS * scale)
        if times > 2:
            size = ENDING_EM_UNITS * scale
            style = 'class="times" font-family="serif" text-anchor="middle"'
            up = (HALF_BAR_LINE_UNITS + 90.0) * scale
            self.ink.of("times").text(f"×{times}", right - SIGN_UNITS / 2 * scale, -up, size, style, 1.2)

    def _upright(self, right: float, width_units: float) -> None:
        half = HALF_BAR_LINE_UNITS * self.ink.scale
        self.ink.box(right - width_units * self.ink.scale, -half, right, half)

    def _dots(self, left: float) -> None:
        """Draw two dots one above the other."""
        radius = BAR_DOT_UNITS * self.ink.scale
        for up in (DOTS_UNITS, -DOTS_UNITS):
            self.ink.dot(left + radius, -up * self.ink.scale, radius)


def draw_meter(ink: LineInk, meter: Meter, left: float) -> None:
    """Draw a meter with its left edge there, one number over the other."""
    size, rows = MUSIC_SIZE * ink.scale, (str(meter).partition("/")[0], str(meter.unit))
    widths = [[size * (PLUS_FONT_UNITS if d == "+" else 2 * middle(f"E08{d}")) for d in row] for row in rows]
    half = max(sum(each) for each in widths) / 2
    for row, across, up in zip(rows, widths, (METER_UP_UNITS, -METER_UP_UNITS), strict=True):
        x = left + half - sum(across) / 2
        for digit, wide in zip(row, across, strict=True):
            if digit == "+":
                _plus(ink, x + wide / 2, -up * ink.scale)
            else:
                ink.glyph(f"E08{digit}", (x, -up * ink.scale))
            x += wide


def _plus(ink: LineInk, x: float, y: float) -> None:
    arm, half = PLUS_ARM_UNITS * ink.scale, PLUS_WIDTH_UNITS / 2 * ink.scale
    ink.box(x - arm, y - half, x + arm, y + half)
    ink.box(x - half, y - arm, x + half, y + arm)


def draw_endings(placing: Placing, extents: Extents, score: DrawnScore, inks: tuple[LineInk, ...]) -> None:
    """Draw every ending's bracket over all that stands on its lines; the last one's is open at its right."""
    columns, scale = placing.columns, placing.scale
    edges = (*columns.cuts, len(columns.x))
    tops = [ink.top - ENDING_UP_UNITS * scale for ink in inks]
    for ending in score.endings:
        for line, ink in enumerate(inks):
            first, stop = max(ending.first, edges[line]), min(ending.stop, edges[line + 1])
            if first >= stop:
                continue
            begins, ends = first == ending.first, stop == ending.stop
            left = columns.x[first] - (extents.left(first) + BAR_GAP_UNITS) * scale
            right = columns.ends_x[line]
            if stop < edges[line + 1]:
                right = columns.x[stop] - (extents.left(stop) + extents.opening(stop)) * scale - 4 * scale
            y, half = tops[line] - ENDING_HOOK_UNITS * scale, ENDING_WIDTH_UNITS / 2 * scale
            ink.of("ending", first).box(left, y - half, right, y + half)
            if begins:
                ink.box(left - half, y - half, left + half, y + ENDING_HOOK_UNITS * scale)
                size = ENDING_EM_UNITS * scale
                x, foot = left + 55.0 * scale, y + 0.85 * size
                ink.text(f"{ending.number}.", x, foot, size, 'class="ending" font-family="serif"', 0.9)
            if ends and ending.closes:
                ink.box(right - half, y - half, right + half, y + ENDING_HOOK_UNITS * scale)


COUNT_EM_UNITS = 230.0
COUNT_GAP_UNITS = 110.0  # between the last bar line and the number of times
DIGIT_EM = 0.6  # a digit's width at most, of its size; so the text stays inside the drawing


def count_units(repeat: int | None) -> float:
    """Return the room that the number of times takes behind the last bar line."""
    if repeat is None or repeat < 2:
        return 0.0
    return COUNT_GAP_UNITS + COUNT_EM_UNITS * DIGIT_EM * len(_count(repeat))


def count_text(repeat: int, end_x: float, scale: float) -> str:
    """Write how often it is played behind the last bar line."""
    x, y = end_x + COUNT_GAP_UNITS * scale, 0.34 * COUNT_EM_UNITS * scale
    size = number(COUNT_EM_UNITS * scale)
    text = f'<text class="times" x="{number(x)}" y="{number(y)}" font-family="serif" font-size="{size}">'
    return f"{text}{_count(repeat)}</text>"


def _count(repeat: int) -> str:
    return f"× {repeat}"
