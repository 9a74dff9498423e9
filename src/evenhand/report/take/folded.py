"""The folded picture: the exercise is the axis, each repetition a row, each hit a leaning stick.

Conventions: px of the drawing's own units, y downwards; ms, negative = early = left. A line of music has
its own block: the music, the rows under it, and under them the means and levels of its notes. Where there
are many repetitions they fold into one row: for each note a hump of where its hits came, and their mean.
Humps of one picture share one height scale, so a wide hand's hump is low and broad.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import fmean

from evenhand.measuring.values import PositionMeasures
from evenhand.music.engraving.engraved import EngravedLine
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import (
    HAND_CLASS,
    WEIGHTS,
    Ink,
    cross_path,
    dot_path,
    place,
    ring_path,
    stick_path,
    tick_path,
)
from evenhand.report.plots.markup import el, picture, px, text_at
from evenhand.report.take.layout import Band, Layout, Scale, bands_height, bands_of
from evenhand.report.take.rows import ExtraMark, GraceMark, Mark, Row
from evenhand.report.take.under_rows import strips, strips_height

BINS = 15
SMOOTHING = (0.06, 0.24, 0.4)  # a bell over five bins, from its foot to its top


def draw_fold(
    ink: Ink, layout: Layout, xs: Mapping[int, float], band: Band, *, scale: Scale, highest: float
) -> None:
    """Draw a fold of many repetitions under one line of music, whose columns stand at ``xs``."""
    by_position = _marks_by_position(band)
    for position, x in xs.items():
        marks = by_position.get(position, [])
        if marks:
            _draw_hump(ink, layout, marks, (x, band.y), scale=scale, highest=highest)
        missed = sum(note.position == position for row in band.rows for note in row.missed)
        if missed:
            ink.add(
                "ring", 0.0, ring_path(x + layout.columns.half_px - 4, band.y - 0.3 * layout.pitch_px, 3.0)
            )


def tallest(bands: Sequence[Band], scale: Scale, layout: Layout) -> float:
    """Return the highest density in the picture, as a share of hits in one bin."""
    return max(
        (
            max(_density(marks, scale, layout))
            for band in bands
            if len(band.rows) > 1
            for marks in _marks_by_position(band).values()
        ),
        default=1.0,
    )


def _marks_by_position(band: Band) -> dict[int, list[Mark]]:
    out: dict[int, list[Mark]] = {}
    for row in band.rows:
        for mark in row.marks:
            out.setdefault(mark.position, []).append(mark)
    return out


def _density(marks: Sequence[Mark], scale: Scale, layout: Layout) -> list[float]:
    """Return the share of hits in each bin across the column, smoothed."""
    half_ms = (layout.columns.half_px - 1) / layout.px_per_ms
    bins = [0.0] * BINS
    for mark in marks:
        late = 0.0 if mark.late_ms is None else mark.late_ms - scale.centre_ms
        at = int((late / half_ms + 1) / 2 * BINS)
        bins[min(BINS - 1, max(0, at))] += 1 / len(marks)
    far, near, own = SMOOTHING
    wide = [0.0, 0.0, *bins, 0.0, 0.0]
    return [
        far * (wide[i] + wide[i + 4]) + near * (wide[i + 1] + wide[i + 3]) + own * wide[i + 2]
        for i in range(BINS)
    ]


def _draw_hump(
    ink: Ink,
    layout: Layout,
    marks: Sequence[Mark],
    at_xy: tuple[float, float],
    *,
    scale: Scale,
    highest: float,
) -> None:
    """Draw one note's hits in one fold: their hump, and a stick at their mean."""
    x, y = at_xy
    hand = HAND_CLASS[marks[0].hand]
    width = 2 * (layout.columns.half_px - 1)
    base = y + 0.46 * layout.pitch_px
    left = x - width / 2
    tops = [base - share / highest * 0.86 * layout.pitch_px for share in _density(marks, scale, layout)]
    points = [f"L{px(left + (i + 0.5) * width / BINS)} {px(top)}" for i, top in enumerate(tops)]
    ink.add(f"hump {hand}", 0.0, f"M{px(left)} {px(base)}{''.join(points)}L{px(left + width)} {px(base)}z")
    lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
    offset = (fmean(lates) - scale.centre_ms) * layout.px_per_ms if lates else 0.0
    strength = scale.strength(fmean(mark.level_db for mark in marks))
    half_x, half_y = layout.stroke.half_extent(strength)
    at, _ = place(x, offset, room_px=layout.columns.half_px, half_x=half_x)
    ink.add(
        hand,
        layout.stroke.weight_px(round(strength * (WEIGHTS - 1))),
        stick_path(at, y, half_x, half_y, marks[0].hand),
    )


GRACE_SHARE = 1 / 3  # a grace's gap is drawn at this share of the magnification
GRACE_LENGTH = 0.72
TOP_PX = 10.0  # between the music and the first row
OVER_PX = 5.0  # how far a column reaches over the first and the last row


@dataclass(frozen=True, slots=True)
class Folded:
    """What one folded picture shows, whatever its layout. ``words`` say it in sentences."""

    rows: Sequence[Row]
    scale: Scale
    exercise: Exercise
    positions: Mapping[int, PositionMeasures]
    words: str


def folded_blocks(folded: Folded, layout: Layout) -> str:
    """Draw every line of music with its rows."""
    bands = bands_of(layout, folded.rows)
    highest = tallest(bands, folded.scale, layout)
    return "".join(
        _block(_Line(folded, layout, line, bands, highest), i) for i, line in enumerate(layout.engraved.lines)
    )


def _block(line: _Line, index: int) -> str:
    layout, height = line.layout, bands_height(line.layout, line.bands)
    top = line.line.height + TOP_PX
    own = {
        position: line.folded.positions[position] for position in line.xs if position in line.folded.positions
    }
    inside = [
        _music(layout, line.line),
        el("g", line.columns(height), line.drawn(), transform=f"translate(0 {px(top)})"),
        el(
            "g",
            strips(layout, line.line, line.bands, line.folded.scale, own),
            transform=f"translate(0 {px(top + height)})",
        ),
    ]
    return picture(
        inside,
        width=layout.width_px,
        height=top + height + strips_height(layout, own),
        key=f"{layout.look.key}-{index}",
        title=_title(line, index),
        words="The rows go on under this line of music; the words are with its first line."
        if index
        else line.folded.words,
        class_="block",
        stretch=layout.look.stretch,
    )


def _title(line: _Line, index: int) -> str:
    struck = [position for position in line.xs if not line.folded.exercise.notes[position].is_rest]
    many = len(line.layout.engraved.lines)
    if many == 1 or not struck:
        return "The take under its notes"
    return f"The take under its notes: line {index + 1} of {many}, notes {struck[0] + 1} to {struck[-1] + 1}"


def _music(layout: Layout, line: EngravedLine) -> str:
    return el(
        "svg",
        line.svg,
        x=layout.gutter_px,
        y=0.0,
        width=line.width,
        height=line.height,
        overflow="visible",
        class_="music",
        aria_hidden="true",
    )


@dataclass
class _Line:
    """One line of music being drawn."""

    folded: Folded
    layout: Layout
    line: EngravedLine
    bands: Sequence[Band]
    highest: float  # density among the folds
    ink: Ink = field(default_factory=Ink)
    xs: dict[int, float] = field(init=False)

    def __post_init__(self) -> None:
        self.xs = self.layout.xs(self.line)

    def columns(self, height: float) -> str:
        """Draw the pale band and the thin line behind each struck note."""
        half = min(self.folded.scale.audible_ms * self.layout.px_per_ms, self.layout.columns.half_px - 1)
        tall = px(height + 2 * OVER_PX)
        bands, lines = [], []
        for position, x in self.xs.items():
            if not self.folded.exercise.notes[position].is_rest:
                bands.append(f"M{px(x - half)} {px(-OVER_PX)}h{px(2 * half)}v{tall}h{px(-2 * half)}z")
                lines.append(f"M{px(x)} {px(-OVER_PX)}v{tall}")
        return el("path", class_="band", d="".join(bands)) + el("path", class_="zero", d="".join(lines))

    def drawn(self) -> str:
        """Draw all rows: single repetitions as sticks, folds as humps."""
        labels = [self._label(band) for band in self.bands]
        for band in self.bands:
            if len(band.rows) > 1:
                draw_fold(self.ink, self.layout, self.xs, band, scale=self.folded.scale, highest=self.highest)
            else:
                self._hits(band.rows[0], band.y)
            self._extra(band)
            self._rests(band)
        return self.ink.drawn() + "".join(labels)

    def _label(self, band: Band) -> str:
        x = self.layout.label_x(self.line)
        number = text_at(x, band.y + 3.5, band.label, class_="n") if band.label else ""
        if not band.gap:
            return number
        end = px(self.layout.gutter_px + self.line.end_x)
        rule = el("path", class_="gap", d=f"M{px(x + 6)} {px(band.gap_y)}H{end}")
        return number + rule + text_at(x + 12, band.gap_y + 3.5, band.gap, class_="stop")

    def _hits(self, row: Row, y: float) -> None:
        drawn = {
            mark.position: self._stick(mark, self.xs[mark.position], y)
            for mark in row.marks
            if mark.position in self.xs
        }
        for grace in row.graces:
            if grace.position in self.xs:
                x = self.xs[grace.position]
                self._grace(grace, x, drawn.get(grace.position, x), y)
        radius = min(4.4, 0.34 * self.layout.pitch_px)
        for note in row.missed:
            if note.position in self.xs:
                aside = -0.5 * self.layout.columns.half_px if note.grace else 0.0
                size = radius * (0.6 if note.grace else 1.0)
                self.ink.add("ring", 0.0, ring_path(self.xs[note.position] + aside, y, size))

    def _stick(self, mark: Mark, x: float, y: float) -> float:
        """Draw one hit; return where its middle came to stand."""
        scale, stroke, room = self.folded.scale, self.layout.stroke, self.layout.columns.half_px
        strength = scale.strength(mark.level_db)
        half_x, half_y = stroke.half_extent(strength)
        late = scale.centre_ms if mark.late_ms is None else mark.late_ms
        at, side = place(x, (late - scale.centre_ms) * self.layout.px_per_ms, room_px=room, half_x=half_x)
        weight = stroke.weight_px(round(strength * (WEIGHTS - 1)))
        self.ink.add(HAND_CLASS[mark.hand], weight, stick_path(at, y, half_x, half_y, mark.hand))
        if side:
            self.ink.add(f"tick {HAND_CLASS[mark.hand]}", 0.0, tick_path(x, y, side, room))
        return at

    def _grace(self, grace: GraceMark, x: float, main_x: float, y: float) -> None:
        """Draw a grace note before its main hit, its gap at a third of the magnification."""
        room = self.layout.columns.half_px
        half_x, half_y = self.layout.stroke.half_extent(self.folded.scale.strength(grace.level_db))
        half_x, half_y = half_x * GRACE_LENGTH, half_y * GRACE_LENGTH
        if grace.gap_ms is None:
            offset = -0.5 * room
        else:
            offset = main_x - x - grace.gap_ms * self.layout.px_per_ms * GRACE_SHARE
        at, side = place(x, offset, room_px=room, half_x=half_x)
        self.ink.add(f"{HAND_CLASS[grace.hand]} g", 0.0, stick_path(at, y, half_x, half_y, grace.hand))
        if side:
            self.ink.add(f"tick {HAND_CLASS[grace.hand]}", 0.0, tick_path(x, y, side, room))

    def _extra(self, band: Band) -> None:
        arm = min(3.0, 0.28 * self.layout.pitch_px)
        end_x = self.layout.gutter_px + self.line.end_x
        for row in band.rows:
            for extra in row.extra:
                if not extra.inside:
                    continue
                x = extra_x(extra, self.xs, end_x, self.layout.columns.half_px)
                if x is not None:
                    self.ink.add("cross", 0.0, cross_path(x, band.y, arm))

    def _rests(self, band: Band) -> None:
        first, last = band.rows[0].span
        for position, x in self.xs.items():
            if first <= position <= last and self.folded.exercise.notes[position].is_rest:
                self.ink.add("rest", 0.0, dot_path(x, band.y))


def extra_x(extra: ExtraMark, xs: Mapping[int, float], end_x: float, half_px: float) -> float | None:
    """Return where an extra hit stands between its neighbours; None where it belongs to another line."""
    share = min(0.85, max(0.15, extra.share))
    before, after = extra.before, extra.after
    if before is None:
        return None if after is None or after not in xs else xs[after] - 0.8 * half_px
    if before not in xs:
        return None
    start = xs[before]
    stop = xs[after] if after is not None and after in xs else max(end_x, start + half_px)
    return start + share * (stop - start)
