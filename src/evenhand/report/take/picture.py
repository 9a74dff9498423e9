"""The folded picture as a figure of the page: two layouts, the key of its marks, its words, its table.

Where no engraving is given, plain heads and letters stand in for it.
"""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.measuring.values import HeardTake
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import (
    cross_path,
    dot_path,
    middle_level_db,
    ring_path,
    stick_path,
    tick_path,
)
from evenhand.report.plots.markup import el, esc, px, text_at
from evenhand.report.plots.shell import fold, prose_lines
from evenhand.report.take.folded import Folded, folded_blocks
from evenhand.report.take.layout import Layout, layouts_of
from evenhand.report.take.rows import Row, rows_of
from evenhand.report.take.table import notes_table
from evenhand.report.words.take import caption, clock_words, picture_words

HEIGHT_PX = 64.0
STAFF_Y = 30.0
LETTER_Y = 54.0
HEAD_PX = 4.6
GRACE_PX = 13.0
LEAST_STEP_PX = 26.0
MOST_STEP_PX = 60.0
LEFT_PX = 48.0


def plain_axis(exercise: Exercise, width_px: float) -> EngravedExercise:
    """Set an exercise as plain heads with their letters, broken into lines of this width."""
    a_line = max(1, int((width_px - LEFT_PX) // _least_step(width_px)))
    notes = range(len(exercise.notes))
    cuts = [notes[i : i + a_line] for i in range(0, len(notes), a_line)]
    step = min(MOST_STEP_PX, (width_px - LEFT_PX) / max(1, min(a_line, len(notes))))
    return EngravedExercise(tuple(_line(exercise, cut, step, width_px) for cut in cuts))


def _least_step(width_px: float) -> float:
    return max(LEAST_STEP_PX, min(MOST_STEP_PX, width_px / 17))


def _line(exercise: Exercise, positions: range, step: float, width_px: float) -> EngravedLine:
    notes = tuple(
        EngravedNote(
            position,
            LEFT_PX + i * step,
            tuple(
                LEFT_PX + i * step - GRACE_PX * (k + 1)
                for k in reversed(range(len(exercise.notes[position].graces)))
            ),
        )
        for i, position in enumerate(positions)
    )
    end_x = LEFT_PX + (len(notes) - 0.4) * step
    width = min(width_px, end_x + 8)
    drawn = "".join(_note(exercise, note) for note in notes)
    staff = f"M{px(LEFT_PX - 20)} {px(STAFF_Y)}H{px(end_x)}M{px(end_x)} {px(STAFF_Y - 9)}v18"
    svg = el(
        "svg",
        el("path", d=staff, stroke="currentColor", stroke_width="1", fill="none"),
        drawn,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {px(width)} {px(HEIGHT_PX)}",
    )
    return EngravedLine(svg, width, HEIGHT_PX, notes, end_x)


def _note(exercise: Exercise, note: EngravedNote) -> str:
    written = exercise.notes[note.position]
    if written.is_rest:
        return el("text", "–", x=note.x, y=STAFF_Y - 6, text_anchor="middle", font_size="13")
    accent = el("text", esc(">"), x=note.x, y=12.0, text_anchor="middle", font_size="14")
    parts = [
        _head(note.x, HEAD_PX),
        el("text", written.hand or "", x=note.x, y=LETTER_Y, text_anchor="middle", font_size="14"),
        accent if written.accent else "",
    ]
    for x, hand in zip(note.grace_x, written.graces, strict=True):
        parts += [_head(x, HEAD_PX * 0.6), text_at(x - 3, LETTER_Y, hand.lower())]
    return "".join(parts)


def _head(x: float, radius: float) -> str:
    return el("ellipse", cx=x, cy=STAFF_Y, rx=radius, ry=radius * 0.8, fill="currentColor", stroke="none")


PLAIN_WIDE_PX, PLAIN_NARROW_PX = 1000.0, 320.0
SIMPLY = (
    "Each row is one repetition, read downwards. Each stick is a hit, / by your right hand and \\ by your "
    "left; a longer one is louder. Left of its line it came early against {zero}, right of it late. "
    "What lies in the pale band nobody can hear."
)


def folded_figure(take: HeardTake, wide: EngravedExercise | None, narrow: EngravedExercise | None) -> str:
    """Return the folded picture of a take for a desk and for a phone, its words and its table."""
    exercise = take.exercise
    if exercise is None or not (rows := rows_of(take.heard, exercise)):
        return ""
    layouts = layouts_of(
        take,
        exercise,
        rows,
        wide or plain_axis(exercise, PLAIN_WIDE_PX),
        narrow or plain_axis(exercise, PLAIN_NARROW_PX),
    )
    scale = layouts[0].scale
    positions = take.measures.positions if take.measures else ()
    said = picture_words(rows, scale, exercise, positions)
    folded = Folded(rows, exercise, {each.position: each for each in positions}, " ".join(said))
    how_to_read = " ".join(caption(take, rows, scale, grace=exercise.has_graces))
    notes = figures_of_notes(take)
    words = fold("The picture in words", prose_lines(said), class_="words")
    return (
        _figure(folded, layouts, how_to_read)
        + words
        + (notes and fold("Each note in figures", notes, class_="tables"))
    )


def simple_figure(take: HeardTake, narrow: EngravedExercise | None) -> str:
    """Return the folded picture for a student's phone: the rows alone, no figure beneath or beside them."""
    exercise = take.exercise
    if exercise is None or not (rows := rows_of(take.heard, exercise)):
        return ""
    layouts = layouts_of(
        take,
        exercise,
        rows,
        plain_axis(exercise, PLAIN_WIDE_PX),
        narrow or plain_axis(exercise, PLAIN_NARROW_PX),
    )
    said = picture_words(rows, layouts[0].scale, exercise, ())
    own = "the click" if take.heard.clock == "click" else "your own tempo"
    figure = _figure(Folded(rows, exercise, {}, " ".join(said)), layouts[1:], SIMPLY.format(zero=own))
    return figure + fold("The picture in words", prose_lines(said), class_="words")


def _figure(folded: Folded, layouts: Sequence[Layout], how_to_read: str) -> str:
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
    return el(
        "svg",
        bar,
        words,
        viewBox=f"0 0 {px(layout.width_px)} 20",
        xmlns="http://www.w3.org/2000/svg",
        aria_hidden="true",
        style=f"max-width:{layout.width_px * layout.look.stretch:.0f}px",
    )


def _key(rows: Sequence[Row], exercise: Exercise, drawn: str) -> str:
    """Name each mark that this picture has."""
    marks = [
        (el("path", class_="r", stroke_width="2", d=stick_path(9, 9, 4, 6, "R")), "right"),
        (el("path", class_="l", stroke_width="2", d=stick_path(9, 9, 4, 6, "L")), "left"),
    ]
    if any(row.missed for row in rows):
        marks.append((el("path", class_="ring", d=ring_path(9, 9, 4.4)), "not heard"))
    if any(extra.inside for row in rows for extra in row.extra):
        marks.append((el("path", class_="cross", d=cross_path(9, 9, 3)), "extra hit"))
    if any(note.is_rest for note in exercise.notes):
        marks.append((el("path", class_="rest", d=dot_path(9, 9)), "rest"))
    if 'class="tick' in drawn:
        edge = tick_path(2, 9, 1, 11)
        marks.append((el("path", class_="tick both", d=edge), "came further out than drawn"))
    items = [
        el("svg", mark, viewBox="0 0 18 18", xmlns="http://www.w3.org/2000/svg", aria_hidden="true")
        + el("span", esc(words))
        for mark, words in marks
    ]
    return el("ul", *(el("li", item) for item in items), class_="key")
