"""Exercise -> engraved lines whose notes' places are known.

Conventions: px-like units. Notes stand in proportion to written time, so that a chart
under them measures ms the same everywhere. The same input gives the same bytes.
"""

from __future__ import annotations

from itertools import pairwise

from evenhand.domain.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.domain.exercise import Exercise
from evenhand.domain.tempo import Tempo
from evenhand.engraving.columns import Spacing, columns_of, graces_back
from evenhand.engraving.engraver import draw_mei
from evenhand.engraving.ink import clef_and_meter, ink_of
from evenhand.engraving.line_svg import LETTER_DROP_UNITS, LineOfMusic, write_line
from evenhand.engraving.mei import to_mei
from evenhand.engraving.placing import Placing
from evenhand.engraving.shapes import take_apart
from evenhand.errors import CannotEngrave

NARROW_PX = 600.0  # below: the size for a phone
SCALE_NARROW, SCALE_WIDE = 0.07, 0.08  # px an engraver's unit
CLEF_X_PX = 2.0
METER_X_PX = 26.0
LEFT_PX, LEFT_WITH_METER_PX = 40.0, 64.0
FOOT_PX = 6.0
MARGIN_PX = 3.0
TEMPO_PX = 32.0


def engrave(
    exercise: Exercise,
    *,
    width: float,
    tempo: Tempo | None = None,
    id_prefix: str = "",
    show_sticking: bool = True,
    spacing: Spacing = "time",
) -> EngravedExercise:
    """Engrave an exercise as lines of music.

    Parameters
    ----------
    exercise : Exercise
        With at least one note, all values above 0.
    width : float
        Room for a line, px; about 34 px a note are needed, 16 notes a line wanted.
    tempo : Tempo, optional
        Written above the first line.
    id_prefix : str
        Given, each line's ``<svg>`` has the id ``<id_prefix>-<line from 1>``; nothing
        inside it ever has one.
    show_sticking : bool
        Write R and L under the heads, graces small.
    spacing : "time" or "note"
        Columns in proportion to written time (a note longer than eight of the
        shortest takes eight), or long notes drawn in.

    Returns
    -------
    EngravedExercise
        All lines equally wide; the same time after a line's start stands at the same x.

    Raises
    ------
    CannotEngrave
        Where the exercise is none (no notes, a value of 0) or the engraver fails.
    """
    _check(exercise)
    scale = SCALE_NARROW if width < NARROW_PX else SCALE_WIDE
    columns = columns_of(
        exercise, width=width, scale=scale, left_px=_left_px(exercise, scale), spacing=spacing
    )
    drawn = take_apart(draw_mei(to_mei(exercise, cuts=columns.cuts, show_sticking=False)))
    missing = [at for at in range(len(exercise.notes)) if f"note-{at}" not in drawn.heads]
    if missing:
        raise CannotEngrave(got=f"{len(missing)} of {len(exercise.notes)} notes were not drawn")
    return _lines(Placing(exercise, drawn, columns, scale), tempo, id_prefix, show_sticking=show_sticking)


def _check(exercise: Exercise) -> None:
    """Refuse what the engraver would take in silence."""
    if not exercise.notes:
        raise CannotEngrave(got="an exercise without notes")
    for position, note in enumerate(exercise.notes):
        if note.value <= 0:
            raise CannotEngrave(got=f"note {position} with the value {note.value}; must be above 0")


def _left_px(exercise: Exercise, scale: float) -> float:
    """Return the room for clef, meter and the graces that may open a line."""
    back = max(graces_back(max(len(note.graces) for note in exercise.notes)), default=0.0)
    plain = LEFT_WITH_METER_PX if exercise.meter else LEFT_PX
    return plain * scale / SCALE_NARROW + back * scale


def _lines(placing: Placing, tempo: Tempo | None, id_prefix: str, *, show_sticking: bool) -> EngravedExercise:
    scale = placing.scale
    size = scale / SCALE_NARROW
    clef, meter = clef_and_meter(placing, CLEF_X_PX * size, METER_X_PX * size)
    inks = ink_of(placing)
    above = max(MARGIN_PX - min(ink.top for ink in inks), 400 * scale)
    below = LETTER_DROP_UNITS * scale + FOOT_PX if show_sticking else 250 * scale + FOOT_PX
    edges = (*placing.columns.cuts, len(placing.exercise.notes))
    lines: list[EngravedLine] = []
    for index, (start, stop) in enumerate(pairwise(edges)):
        staff_y = above + (TEMPO_PX * size if tempo and index == 0 else 0.0)
        line = LineOfMusic(
            placing,
            index,
            start,
            stop,
            ink=inks[index],
            head=clef + (meter if index == 0 else ""),
            staff_y=staff_y,
            height=round(staff_y + below, 2),
            tempo=tempo if index == 0 else None,
            show_sticking=show_sticking,
            id_prefix=id_prefix,
        )
        lines.append(_engraved(line))
    return EngravedExercise(tuple(lines))


def _engraved(line: LineOfMusic) -> EngravedLine:
    columns = line.placing.columns
    notes = tuple(
        EngravedNote(at, columns.x[at], line.placing.grace_x(at)) for at in range(line.start, line.stop)
    )
    return EngravedLine(write_line(line), columns.width, line.height, notes, line.end_x)
