"""An exercise as plain heads and letters, for a picture that is given no engraving.

Conventions: px, y downwards; notes stand evenly, whatever their values.
"""

from __future__ import annotations

from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.exercise import Exercise
from evenhand.report.plots.markup import el, esc, px, svg, text_at

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
    line = el("path", d=staff, stroke="currentColor", stroke_width="1", fill="none")
    return EngravedLine(svg((width, HEIGHT_PX), line, drawn), width, HEIGHT_PX, notes, end_x)


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
