"""The folded picture as a figure of the page: two layouts, the key of its marks, its words, its table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from evenhand.measuring.values import HeardTake, Measure
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import (
    cross_path,
    dot_path,
    hood_path,
    middle_level_db,
    ring_path,
    stick_path,
    tick_path,
)
from evenhand.report.plots.markup import el, esc, px, svg
from evenhand.report.plots.shell import fold, prose_lines
from evenhand.report.take.folded import Folded, folded_blocks
from evenhand.report.take.layout import Layout, lay_out
from evenhand.report.take.rows import Row
from evenhand.report.take.table import notes_table
from evenhand.report.words.take import caption, clock_words, picture_words

NOT_SEEN: Mapping[int, Measure] = MappingProxyType({})
HEIGHTS = "At the foot, how high the stick was before each note: the mean, cm."
SIMPLY = (
    "Each row is one repetition, read downwards. Each stick is a hit, / by your right hand and \\ by your "
    "left; a longer one is louder. Left of its line it came early against {zero}, right of it late. "
    "What lies in the pale band nobody can hear."
)


def folded_figure(
    take: HeardTake,
    wide: EngravedExercise | None,
    narrow: EngravedExercise | None,
    heights: Mapping[int, Measure] = NOT_SEEN,
) -> str:
    """Return the folded picture of a take for a desk and for a phone, its words and its table.

    ``heights`` are those of the stick before each note, cm, where they were seen.
    """
    laid = lay_out(take, wide, narrow)
    if laid is None:
        return ""
    positions = take.measures.positions if take.measures else ()
    said = picture_words(laid.rows, laid.scale, laid.exercise, positions)
    by_position = {each.position: each for each in positions}
    folded = Folded(laid.rows, laid.exercise, by_position, " ".join(said), heights)
    seen = [HEIGHTS] if heights else []
    how_to_read = " ".join([*caption(take, laid.rows, laid.scale, grace=laid.exercise.has_graces), *seen])
    notes = figures_of_notes(take)
    return (
        figure_of(folded, (laid.desk, laid.phone), how_to_read)
        + fold("The picture in words", prose_lines(said), class_="words")
        + (notes and fold("Each note in figures", notes, class_="tables"))
    )


def simple_figure(take: HeardTake, narrow: EngravedExercise | None) -> str:
    """Return the folded picture for a student's phone: the rows alone, no figure beneath or beside them."""
    laid = lay_out(take, None, narrow)
    if laid is None:
        return ""
    said = picture_words(laid.rows, laid.scale, laid.exercise, ())
    own = "the click" if take.heard.clock == "click" else "your own tempo"
    folded = Folded(laid.rows, laid.exercise, {}, " ".join(said))
    words = fold("The picture in words", prose_lines(said), class_="words")
    return figure_of(folded, (laid.phone,), SIMPLY.format(zero=own)) + words


def figure_of(folded: Folded, layouts: Sequence[Layout], how_to_read: str) -> str:
    """Return a folded picture in its layouts, with the key of its marks and how to read it."""
    drawn = [
        el("div", folded_blocks(folded, layout), _scale_bar(layout), class_=f"layout {layout.look.key}")
        for layout in layouts
    ]
    key = _key(folded.rows, folded.exercise, "".join(drawn))
    return el("figure", *drawn, el("figcaption", key, prose_lines([how_to_read])), class_="folded")


def figures_of_notes(take: HeardTake) -> str:
    """Return what was measured of each note as a table; "" where nothing was."""
    if take.exercise is None or take.measures is None or not take.measures.positions:
        return ""
    return notes_table(take.measures.positions, take.exercise, middle_level_db(take.heard), clock_words(take))


def _scale_bar(layout: Layout) -> str:
    """Draw how long a round number of ms is in the picture."""
    room = 1.2 * layout.half_px
    ms = next((s for s in (200, 100, 50, 20, 10, 5, 2, 1) if s * layout.px_per_ms <= room), 1)
    width = ms * layout.px_per_ms
    x = layout.gutter_px + layout.half_px
    bar = el("path", class_="scale", d=f"M{px(x)} 6v8M{px(x)} 10h{px(width)}M{px(x + width)} 6v8")
    words = el("text", f"{ms} ms, as the columns draw it", x=x + width + 8, y=14.0)
    widest = f"max-width:{layout.width_px * layout.look.stretch:.0f}px"
    style = f"{widest};overflow:visible"  # music of a bar is narrower than the words
    return svg((layout.width_px, 20), bar, words, aria_hidden="true", style=style)


def _key(rows: Sequence[Row], exercise: Exercise, drawn: str) -> str:
    """Name each mark that this picture has."""
    marks = [
        (el("path", class_="r", stroke_width="2", d=stick_path(9, 9, 4, 6, "R")), "right"),
        (el("path", class_="l", stroke_width="2", d=stick_path(9, 9, 4, 6, "L")), "left"),
    ]
    if any(row.missed for row in rows):
        marks.append((el("path", class_="ring", d=ring_path(9, 9, 4.4)), "not heard"))
    if any(row.hidden for row in rows):
        words = "hidden under louder ones, cannot be heard"
        marks.append((el("path", class_="hood", d=hood_path(9, 9, 4.4)), words))
    if any(extra.inside for row in rows for extra in row.extra):
        marks.append((el("path", class_="cross", d=cross_path(9, 9, 3)), "extra hit"))
    if any(note.is_rest for note in exercise.notes):
        marks.append((el("path", class_="rest", d=dot_path(9, 9)), "rest"))
    if 'class="tick' in drawn:
        edge = tick_path(2, 9, 1, 11)
        marks.append((el("path", class_="tick both", d=edge), "came further out than drawn"))
    items = [
        el("li", svg((18, 18), mark, aria_hidden="true"), el("span", esc(words))) for mark, words in marks
    ]
    return el("ul", *items, class_="key")
