"""The folded picture: the exercise is the axis, each repetition a row, each hit a leaning stick.

Conventions: px of the drawing's own units, y downwards; ms, negative = early = left. A line of music has
its own block: the music, the rows under it, and under them the means and levels of its notes. Where there
are many repetitions they fold into one row: for each note a hump of where its hits came, and their mean.
Humps of one picture share one height scale, so a wide hand's hump is low and broad.

Where its rows and columns lie is given with it, so that a page can play from any of them: px of each block's
own viewBox, y downwards; seconds of the recording. A hit is [time_s, row, position]; rows count from 0 in the
picture's order, a row's repetition from 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import fmean
from typing import Any

from evenhand.measuring.values import HeardTake, Measure, PositionMeasures
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import (
    HAND_CLASS,
    Ink,
    cross_path,
    dot_path,
    hood_path,
    place,
    ring_path,
    stick_path,
    tick_path,
)
from evenhand.report.plots.markup import el, picture, px, text_at
from evenhand.report.take.layout import Band, Layout, bands_height, bands_of, lay_out
from evenhand.report.take.rows import ExtraMark, GraceMark, Mark, Row
from evenhand.report.take.under_rows import strips, strips_height

BINS = 15
SMOOTHING = (0.06, 0.24, 0.4)  # a bell over five bins, from its foot to its top
GRACE_SHARE = 1 / 3  # a grace's gap is drawn at this share of the magnification
GRACE_LENGTH = 0.72
TOP_PX = 10.0  # between the music and the first row
OVER_PX = 5.0  # how far a column reaches over the first and the last row
GOES_ON = "The rows go on under this line of music; the words are with its first line."


@dataclass(frozen=True, slots=True)
class Folded:
    """What one folded picture shows, whatever its layout. ``words`` say it in sentences."""

    rows: Sequence[Row]
    exercise: Exercise
    positions: Mapping[int, PositionMeasures]
    words: str
    heights: Mapping[int, Measure] = field(default_factory=dict)  # of the stick before each note, cm


def folded_blocks(folded: Folded, layout: Layout) -> str:
    """Draw every line of music with its rows."""
    bands = bands_of(layout, folded.rows)
    highest = tallest(bands, layout)
    return "".join(
        _block(_Line(folded, layout, line, bands, highest), i) for i, line in enumerate(layout.engraved.lines)
    )


def _block(line: _Line, index: int) -> str:
    folded, layout, music = line.folded, line.layout, line.line
    height = bands_height(layout, line.bands)
    top = music.height + TOP_PX
    own = {position: folded.positions[position] for position in line.xs if position in folded.positions}
    under = strips(layout, music, line.bands, own, folded.heights)
    inside = [
        _music(layout, music),
        el("g", line.stripes(), line.columns(height), line.drawn(), transform=f"translate(0 {px(top)})"),
        el("g", under, transform=f"translate(0 {px(top + height)})"),
    ]
    return picture(
        inside,
        width=layout.width_px,
        height=top + height + strips_height(layout, own, folded.heights),
        key=f"{layout.look.key}-{index}",
        title=_title(line, index),
        words=GOES_ON if index else folded.words,
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


def tallest(bands: Sequence[Band], layout: Layout) -> float:
    """Return the highest density in the picture, as a share of hits in one bin."""
    folds = [_by_position(band).values() for band in bands if len(band.rows) > 1]
    return max((max(_density(marks, layout)) for fold in folds for marks in fold), default=1.0)


def _by_position(band: Band) -> dict[int, list[Mark]]:
    out: dict[int, list[Mark]] = {}
    for row in band.rows:
        for mark in row.marks:
            out.setdefault(mark.position, []).append(mark)
    return out


def _density(marks: Sequence[Mark], layout: Layout) -> list[float]:
    """Return the share of hits in each bin across the column, smoothed."""
    half = layout.half_px - 1
    bins = [0.0] * BINS
    for mark in marks:
        at = int((layout.offset_px(mark.late_ms) / half + 1) / 2 * BINS)
        bins[min(BINS - 1, max(0, at))] += 1 / len(marks)
    far, near, own = SMOOTHING
    wide = [0.0, 0.0, *bins, 0.0, 0.0]
    return [
        far * (wide[i] + wide[i + 4]) + near * (wide[i + 1] + wide[i + 3]) + own * wide[i + 2]
        for i in range(BINS)
    ]


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

    def stripes(self) -> str:
        """Draw the stripe behind each row that is not the take's own."""
        left, end = self.layout.label_x(self.line) + 2, self.layout.gutter_px + self.line.end_x
        tall = px(self.layout.pitch_px)
        behind = [
            f"M{px(left)} {px(band.y - self.layout.pitch_px / 2)}H{px(end)}v{tall}H{px(left)}z"
            for band in self.bands
            if band.rows[0].label is not None
        ]
        return el("path", class_="stripe", d="".join(behind)) if behind else ""

    def columns(self, height: float) -> str:
        """Draw the pale band and the thin line behind each struck note."""
        half = min(self.layout.scale.audible_ms * self.layout.px_per_ms, self.layout.half_px - 1)
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
                self._fold(band)
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
        unheard = [("ring", ring_path, note) for note in row.missed]
        unheard += [("hood", hood_path, note) for note in row.hidden]
        for kind, path, note in unheard:
            if note.position in self.xs:
                aside = -0.5 * self.layout.half_px if note.grace else 0.0
                size = radius * (0.6 if note.grace else 1.0)
                self.ink.add(kind, 0.0, path(self.xs[note.position] + aside, y, size))

    def _fold(self, band: Band) -> None:
        """Draw a fold of many repetitions: a hump for each note's hits, and what was missed."""
        by_position, half = _by_position(band), self.layout.half_px
        for position, x in self.xs.items():
            if position in by_position:
                self._hump(by_position[position], x, band.y)
            if any(note.position == position for row in band.rows for note in row.missed):
                ring = ring_path(x + half - 4, band.y - 0.3 * self.layout.pitch_px, 3.0)
                self.ink.add("ring", 0.0, ring)

    def _hump(self, marks: Sequence[Mark], x: float, y: float) -> None:
        """Draw one note's hits in one fold: their hump, and a stick at their mean."""
        layout, hand = self.layout, marks[0].hand
        left, width = x - layout.half_px + 1, 2 * (layout.half_px - 1)
        base, tall = y + 0.46 * layout.pitch_px, 0.86 * layout.pitch_px / self.highest
        tops = [base - share * tall for share in _density(marks, layout)]
        points = "".join(f"L{px(left + (i + 0.5) * width / BINS)} {px(top)}" for i, top in enumerate(tops))
        hump = f"M{px(left)} {px(base)}{points}L{px(left + width)} {px(base)}z"
        self.ink.add(f"hump {HAND_CLASS[hand]}", 0.0, hump)
        lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
        self.ink.add_stick(
            layout.stroke,
            (x, y),
            layout.offset_px(fmean(lates) if lates else None),
            room_px=layout.half_px,
            hand=hand,
            strength=layout.scale.strength(fmean(mark.level_db for mark in marks)),
        )

    def _stick(self, mark: Mark, x: float, y: float) -> float:
        """Draw one hit; return where its middle came to stand."""
        layout = self.layout
        at, side = self.ink.add_stick(
            layout.stroke,
            (x, y),
            layout.offset_px(mark.late_ms),
            room_px=layout.half_px,
            hand=mark.hand,
            strength=layout.scale.strength(mark.level_db),
        )
        if side:
            self.ink.add(f"tick {HAND_CLASS[mark.hand]}", 0.0, tick_path(x, y, side, layout.half_px))
        return at

    def _grace(self, grace: GraceMark, x: float, main_x: float, y: float) -> None:
        """Draw a grace note before its main hit, its gap at a third of the magnification."""
        layout = self.layout
        extent = layout.stroke.half_extent(layout.scale.strength(grace.level_db))
        half_x, half_y = (GRACE_LENGTH * half for half in extent)
        offset = -0.5 * layout.half_px
        if grace.gap_ms is not None:
            offset = main_x - x - grace.gap_ms * layout.px_per_ms * GRACE_SHARE
        at, side = place(x, offset, room_px=layout.half_px, half_x=half_x)
        hand = HAND_CLASS[grace.hand]
        self.ink.add(f"{hand} g", 0.0, stick_path(at, y, half_x, half_y, grace.hand))
        if side:
            self.ink.add(f"tick {hand}", 0.0, tick_path(x, y, side, layout.half_px))

    def _extra(self, band: Band) -> None:
        arm = min(3.0, 0.28 * self.layout.pitch_px)
        end_x = self.layout.gutter_px + self.line.end_x
        for row in band.rows:
            for extra in row.extra:
                if not extra.inside:
                    continue
                x = extra_x(extra, self.xs, end_x, self.layout.half_px)
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


TIME_DIGITS, PX_DIGITS = 4, 1
TAIL_SHARE = 0.5  # of a repetition: how long a last row goes on after its last hit, at most a second
MOST_TAIL_S = 1.0


def places_of(take: HeardTake, wide: EngravedExercise, narrow: EngravedExercise) -> dict[str, Any]:
    """Return a take's rows, hits, and their places in both layouts of its picture; empty where it has none.

    The engravings are those that the picture was drawn with.
    """
    laid = lay_out(take, wide, narrow)
    if laid is None:
        return {}
    return {
        "hands": [note.letter for note in laid.exercise.notes],
        "rows": _rows(laid.rows, take.input.seconds),
        "hits": [
            [round(mark.time_s, TIME_DIGITS), i, mark.position]
            for i, row in enumerate(laid.rows)
            for mark in row.marks
        ],
        "looks": {
            layout.look.key: _blocks(layout, laid.exercise, laid.rows) for layout in (laid.desk, laid.phone)
        },
    }


def factor_of(take: HeardTake, wide: EngravedExercise, narrow: EngravedExercise) -> float | None:
    """Return how many times wider than the music a take's picture draws time; None where it has none."""
    laid = lay_out(take, wide, narrow)
    return None if laid is None else laid.scale.factor


def _rows(rows: tuple[Row, ...], seconds: float) -> list[list[float]]:
    """Return each row's repetition, where it begins, and where it ends."""
    begins = [row.marks[0].time_s if row.marks else None for row in rows]
    out: list[list[float]] = []
    for i, row in enumerate(rows):
        first = begins[i]
        if first is None:
            out.append([row.repetition, -1.0, -1.0])
            continue
        last = row.marks[-1].time_s
        after = next((at for at in begins[i + 1 :] if at is not None), seconds)
        end = min(after, last + min(MOST_TAIL_S, max(0.15, TAIL_SHARE * (last - first))))
        out.append([row.repetition, round(first, TIME_DIGITS), round(end, TIME_DIGITS)])
    return out


def _blocks(layout: Layout, exercise: Exercise, rows: tuple[Row, ...]) -> list[dict[str, Any]]:
    """Return each line of music's columns and rows; a fold's room is shared out among its repetitions."""
    ys = _middles(layout, rows)
    half = round(layout.half_px, PX_DIGITS)
    return [
        {
            "xs": {
                str(position): round(x, PX_DIGITS)
                for position, x in layout.xs(line).items()
                if not exercise.notes[position].is_rest
            },
            "ys": [round(line.height + TOP_PX + y, PX_DIGITS) for y in ys],
            "half": half,
            "pitch": round(min(layout.pitch_px, _closest(ys, layout.pitch_px)), PX_DIGITS),
        }
        for line in layout.engraved.lines
    ]


def _middles(layout: Layout, rows: tuple[Row, ...]) -> list[float]:
    """Return the middle of each row, from the top of the rows."""
    out = []
    for band in bands_of(layout, rows):
        share = layout.pitch_px / len(band.rows)
        top = band.y - layout.pitch_px / 2
        out += [top + (i + 0.5) * share for i in range(len(band.rows))]
    return out


def _closest(ys: list[float], otherwise: float) -> float:
    return min((b - a for a, b in pairwise(ys)), default=otherwise)
