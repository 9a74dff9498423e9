"""What stands beneath the rows: each note's mean with its interval, its level, and what was missed.

Conventions: px, y downwards from the last row; ms against the middle of the column; dB
against the take's middle level. A bold figure lies beyond what an ear can tell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evenhand.measuring.values import AUDIBLE_LEVEL_DB, Measure, PositionMeasures
from evenhand.music.engraving.engraved import EngravedLine
from evenhand.report.plots.marks import HAND_CLASS, Ink, dot_path, place, ring_path
from evenhand.report.plots.markup import el, px, text_at
from evenhand.report.take.layout import MISSED, MOST_ROWS, Band, Layout
from evenhand.report.words.figures import plain, side_of_audible, signed

MEAN_Y = 24.0
FIGURE_Y = 42.0
STRIP_Y = 56.0
BOTTOM_PX = 10.0
HEIGHTS_PX, TALLEST_CM = 24.0, 35.0  # of the strip of heights: its words; its top
WHOLE_FROM_DB = 9.95
LEAST_BAR = 0.12  # of the strip, so that the softest note has a bar, too


def strips_height(
    layout: Layout, positions: Mapping[int, PositionMeasures], heights: Mapping[int, Measure]
) -> float:
    """Return how much room the strips take."""
    if not positions:
        return BOTTOM_PX
    high = layout.look.strip_px + HEIGHTS_PX if heights else 0.0
    return _missed_y(layout, positions) - 12 + high + BOTTOM_PX


def _missed_y(layout: Layout, positions: Mapping[int, PositionMeasures]) -> float:
    """Return where the strips end that are of what was heard."""
    return _level_y(layout) + (33.0 if any(each.missed for each in positions.values()) else 15.0)


def strips(
    layout: Layout,
    line: EngravedLine,
    bands: Sequence[Band],
    positions: Mapping[int, PositionMeasures],
    heights: Mapping[int, Measure],
) -> str:
    """Draw the strips of one line's notes; nothing where nothing was measured."""
    if not positions:
        return ""
    ink, words = Ink(), []
    xs = layout.xs(line)
    for position, measures in positions.items():
        words += _timing(ink, layout, measures, xs[position])
        words += _level(ink, layout, measures, xs[position])
    _level_points(ink, layout, xs, bands)
    words += _missed(ink, layout, xs, positions)
    x = layout.label_x(line)
    units = [text_at(x, FIGURE_Y, "ms", class_="n"), text_at(x, _level_y(layout), "dB", class_="n")]
    if any(each.missed for each in positions.values()):
        units.append(text_at(x, _level_y(layout) + 18, MISSED, class_="n"))
    if heights:
        base = _missed_y(layout, positions) + layout.look.strip_px
        for position, each in positions.items():
            words += _height(ink, layout, (xs[position], base), each, heights.get(position))
        units.append(text_at(x, base + 15, "cm", class_="n"))
    return ink.drawn() + "".join(words) + "".join(units)


def _height(
    ink: Ink, layout: Layout, at: tuple[float, float], each: PositionMeasures, height: Measure | None
) -> list[str]:
    """Draw a line as tall as the stick was high before the hit, and the figure."""
    x, base = at
    if height is None or height.value is None:
        return [text_at(x, base + 15, "–", class_="f")]
    hand, top = HAND_CLASS[each.hand], base - layout.look.strip_px * min(height.value / TALLEST_CM, 1.0)
    ink.add(f"at {hand}", 0.0, f"M{px(x)} {px(base)}V{px(top)}")
    ink.add(f"cap {hand}", 0.0, f"M{px(x - 4.5)} {px(top)}h9")
    return [text_at(x, base + 15, plain(height.value, 0), class_="f")]


def _level_y(layout: Layout) -> float:
    return STRIP_Y + layout.look.strip_px + 15


def _timing(ink: Ink, layout: Layout, each: PositionMeasures, x: float) -> list[str]:
    """Draw a dot at the mean, a whisker over its interval, and the figure."""
    hand, measure = HAND_CLASS[each.hand], each.timing_ms
    if measure.value is None:
        return [text_at(x, FIGURE_Y, "–", class_="f")]
    scale = layout.scale
    at, *ends = (
        place(x, layout.offset_px(value), room_px=layout.half_px, half_x=0)[0]
        for value in (measure.value, *(measure.ci95 or ()))
    )
    if ends:
        ink.add(f"whisker {hand}", 0.0, f"M{px(ends[0])} {px(MEAN_Y)}H{px(ends[1])}")
    ink.add(f"dot {hand}", 0.0, dot_path(at, MEAN_Y))
    side = side_of_audible(measure, scale.audible_ms, about=scale.centre_ms)
    return [_figure(x, FIGURE_Y, signed(measure.value - scale.centre_ms, 0), side)]


def _level(ink: Ink, layout: Layout, each: PositionMeasures, x: float) -> list[str]:
    """Draw a bar up to the mean level, and the figure."""
    hand, measure = HAND_CLASS[each.hand], each.level_db
    if measure.value is None:
        return [text_at(x, _level_y(layout), "–", class_="f")]
    top, base = _strip_y(layout, measure.value), STRIP_Y + layout.look.strip_px
    ink.add(f"bar {hand}", 0.0, f"M{px(x)} {px(base)}V{px(top)}")
    ink.add(f"cap {hand}", 0.0, f"M{px(x - 4.5)} {px(top)}h9")
    relative = _relative(measure, layout.scale.middle_db)
    side = side_of_audible(relative, AUDIBLE_LEVEL_DB)
    return [_figure(x, _level_y(layout), _level_words(relative.value or 0.0), side)]


def _level_words(level_db: float) -> str:
    """Write a level to a tenth; one of two digits to whole dB, so that it fits its column in any face."""
    return signed(level_db, 1 if abs(level_db) < WHOLE_FROM_DB else 0)


def _relative(measure: Measure, middle_db: float) -> Measure:
    """Return a level as a difference from the take's middle."""
    value = None if measure.value is None else measure.value - middle_db
    ci95 = None if measure.ci95 is None else (measure.ci95[0] - middle_db, measure.ci95[1] - middle_db)
    return Measure(value, measure.n, measure.unit, ci95, measure.needs)


def _strip_y(layout: Layout, level_db: float) -> float:
    share = LEAST_BAR + (1 - LEAST_BAR) * layout.scale.strength(level_db)
    return STRIP_Y + layout.look.strip_px * (1 - share)


def _level_points(ink: Ink, layout: Layout, xs: Mapping[int, float], bands: Sequence[Band]) -> None:
    """Draw each hit's level as a small point beside its note's bar, while they are few enough."""
    rows = [row for band in bands for row in band.rows]
    if len(rows) > MOST_ROWS:
        return
    for i, row in enumerate(rows):
        aside = (i * 7 % 11 - 5) * 0.8
        for mark in row.marks:
            if mark.position in xs:
                y = _strip_y(layout, mark.level_db)
                ink.add(f"point {HAND_CLASS[mark.hand]}", 0.0, dot_path(xs[mark.position] + aside, y))


def _missed(
    ink: Ink, layout: Layout, xs: Mapping[int, float], positions: Mapping[int, PositionMeasures]
) -> list[str]:
    """Count the missed notes beneath their column."""
    y = _level_y(layout) + 18
    out = []
    for position, each in positions.items():
        if each.missed:
            ink.add("ring", 0.0, ring_path(xs[position] - 6, y - 3.5, 3.2))
            out.append(el("text", str(each.missed), x=xs[position] + 3, y=y, class_="f s"))
    return out


def _figure(x: float, y: float, words: str, side: str | None) -> str:
    """Write a figure, bold where it can be heard."""
    return text_at(x, y, words, class_="f b" if side == "can be heard" else "f")
