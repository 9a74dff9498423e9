"""Many repetitions folded into one row: for each note a hump of where its hits came, and their mean.

Conventions: px, y downwards; humps of one picture share one height scale, so a wide hand's
hump is low and broad.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import fmean

from evenhand.pages.markup import px
from evenhand.pages.rows import Mark
from evenhand.pages.scale import Scale
from evenhand.pages.sheet import Band, Sheet
from evenhand.pages.sticks import HAND_CLASS, WEIGHTS, Ink, place, ring_path, stick_path

BINS = 15
SMOOTHING = (0.06, 0.24, 0.4)  # a bell over five bins, from its foot to its top


def draw_fold(
    ink: Ink, sheet: Sheet, xs: Mapping[int, float], band: Band, *, scale: Scale, highest: float
) -> None:
    """Draw a fold of many repetitions under one line of music, whose columns stand at ``xs``."""
    by_position = _marks_by_position(band)
    for position, x in xs.items():
        marks = by_position.get(position, [])
        if marks:
            _draw_hump(ink, sheet, marks, (x, band.y), scale=scale, highest=highest)
        missed = sum(note.position == position for row in band.rows for note in row.missed)
        if missed:
            ink.add("ring", 0.0, ring_path(x + sheet.columns.half_px - 4, band.y - 0.3 * sheet.pitch_px, 3.0))


def tallest(bands: Sequence[Band], scale: Scale, sheet: Sheet) -> float:
    """Return the highest density in the picture, as a share of hits in one bin."""
    return max(
        (
            max(_density(marks, scale, sheet))
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


def _density(marks: Sequence[Mark], scale: Scale, sheet: Sheet) -> list[float]:
    """Return the share of hits in each bin across the column, smoothed."""
    half_ms = (sheet.columns.half_px - 1) / sheet.px_per_ms
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
    ink: Ink, sheet: Sheet, marks: Sequence[Mark], at_xy: tuple[float, float], *, scale: Scale, highest: float
) -> None:
    """Draw one note's hits in one fold: their hump, and a stick at their mean."""
    x, y = at_xy
    hand = HAND_CLASS[marks[0].hand]
    width = 2 * (sheet.columns.half_px - 1)
    base = y + 0.46 * sheet.pitch_px
    left = x - width / 2
    tops = [base - share / highest * 0.86 * sheet.pitch_px for share in _density(marks, scale, sheet)]
    points = [f"L{px(left + (i + 0.5) * width / BINS)} {px(top)}" for i, top in enumerate(tops)]
    ink.add(f"hump {hand}", 0.0, f"M{px(left)} {px(base)}{''.join(points)}L{px(left + width)} {px(base)}z")
    lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
    offset = (fmean(lates) - scale.centre_ms) * sheet.px_per_ms if lates else 0.0
    strength = scale.strength(fmean(mark.level_db for mark in marks))
    half_x, half_y = sheet.stroke.half_extent(strength)
    at, _ = place(x, offset, room_px=sheet.columns.half_px, half_x=half_x)
    ink.add(
        hand,
        sheet.stroke.weight_px(round(strength * (WEIGHTS - 1))),
        stick_path(at, y, half_x, half_y, marks[0].hand),
    )
