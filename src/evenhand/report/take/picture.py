"""The folded picture as a figure of the page: two layouts, the key of its marks, its words, its table.

A plain axis of heads and letters, for a page that is given no engraving.
"""

from __future__ import annotations

from evenhand.measuring.values import HeardTake
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.exercise import Exercise
from evenhand.report.plots.marks import (
    Scale,
    cross_path,
    dot_path,
    interval_of,
    middle_level_db,
    ring_path,
    scale_of,
    stick_path,
    tick_path,
)
from evenhand.report.plots.markup import el, esc, prose, px, text_at
from evenhand.report.take.folded import Folded, folded_blocks
from evenhand.report.take.layout import DESK, PHONE, Sheet, sheet_of
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


def folded_figure(
    take: HeardTake,
    wide: EngravedExercise | None,
    narrow: EngravedExercise | None,
    *,
    simply: bool = False,
) -> str:
    """Return the folded picture of a take, for a desk and for a phone.

    ``simply`` draws the rows alone, for a student: no figure stands beneath or beside them.
    """
    exercise = take.exercise
    if exercise is None:
        return ""
    rows = rows_of(take.heard, exercise)
    if not rows:
        return ""
    sheets, scale = _sheets(take, exercise, rows, wide, narrow)
    positions = take.measures.positions if take.measures and not simply else ()
    said = picture_words(rows, scale, exercise, positions)
    by_position = {each.position: each for each in positions}
    folded = Folded(rows, scale, exercise, by_position, " ".join(said))
    layouts = [
        el(
            "div",
            folded_blocks(folded, sheet),
            _scale_bar(sheet),
            class_=f"layout {sheet.look.key}",
        )
        for sheet in sheets
    ]
    own = "the click" if take.heard.clock == "click" else "your own tempo"
    how_to_read = (
        SIMPLY.format(zero=own) if simply else " ".join(caption(take, rows, scale, grace=exercise.has_graces))
    )
    return el(
        "figure",
        *layouts,
        el("figcaption", _key(rows, exercise, "".join(layouts)), el("p", prose(how_to_read))),
        class_="folded",
    ) + _in_words(
        said, notes_table(positions, exercise, scale.middle_db, clock_words(take)) if positions else ""
    )


def figures_of_notes(take: HeardTake) -> str:
    """Return what was measured of each note as a table; "" where nothing was."""
    if take.exercise is None or take.measures is None or not take.measures.positions:
        return ""
    middle_db = middle_level_db(take.heard)
    table = notes_table(take.measures.positions, take.exercise, middle_db, clock_words(take))
    return el("div", table, class_="scroll", tabindex=0, role="region", aria_label="Each note in figures")


def _sheets(
    take: HeardTake,
    exercise: Exercise,
    rows: tuple[Row, ...],
    wide: EngravedExercise | None,
    narrow: EngravedExercise | None,
) -> tuple[list[Sheet], Scale]:
    interval = interval_of(take)
    engraved = (
        (DESK, wide or plain_axis(exercise, PLAIN_WIDE_PX)),
        (PHONE, narrow or plain_axis(exercise, PLAIN_NARROW_PX)),
    )
    sheets = [sheet_of(look, lines, exercise, interval, rows) for look, lines in engraved]
    scale = scale_of(rows, [(sheet.columns, sheet.stroke.lean_px) for sheet in sheets], interval)
    return [sheet.scaled(scale) for sheet in sheets], scale


def _scale_bar(sheet: Sheet) -> str:
    """Draw how long a round number of ms is in the picture."""
    room = 1.2 * sheet.columns.half_px
    ms = next((s for s in (200, 100, 50, 20, 10, 5, 2, 1) if s * sheet.px_per_ms <= room), 1)
    width = ms * sheet.px_per_ms
    x = sheet.gutter_px + sheet.columns.half_px
    bar = el("path", class_="scale", d=f"M{px(x)} 6v8M{px(x)} 10h{px(width)}M{px(x + width)} 6v8")
    words = el("text", f"{ms} ms, as the columns draw it", x=x + width + 8, y=14.0)
    return el(
        "svg",
        bar,
        words,
        viewBox=f"0 0 {px(sheet.width_px)} 20",
        xmlns="http://www.w3.org/2000/svg",
        aria_hidden="true",
        style=f"max-width:{sheet.width_px * sheet.look.stretch:.0f}px",
    )


def _key(rows: tuple[Row, ...], exercise: Exercise, drawn: str) -> str:
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


def _in_words(said: list[str], table: str) -> str:
    words = el(
        "details",
        el("summary", "The picture in words"),
        *(el("p", prose(sentence)) for sentence in said),
        class_="words",
    )
    if not table:
        return words
    scroll = el("div", table, class_="scroll", tabindex=0, role="region", aria_label="Each note in figures")
    return words + el("details", el("summary", "Each note in figures"), scroll, class_="tables")
