"""Exercise -> engraved lines whose notes' places are known.

Conventions: px-like units. Notes stand in proportion to written time, so that a chart
under them measures ms the same everywhere. The same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from evenhand.errors import CannotEngrave
from evenhand.music.engraving.columns import (
    MIN_COLUMN_PX,
    MIN_PRINTED_UNITS,
    LineColumns,
    Placing,
    Spacing,
    columns_of,
)
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.engraving.ink import draw_openings, ink_of
from evenhand.music.engraving.line import (
    CLEF_UNITS,
    CLOSE_UNITS,
    METER_UNITS,
    EngravingOptions,
    LineOfMusic,
    count_units,
    drop_units,
    left_px,
    write_line,
)
from evenhand.music.engraving.notation import groups_of
from evenhand.music.engraving.rolls import DrawnScore, Rolls, draw_rolls, score_of
from evenhand.music.engraving.stems import Stems
from evenhand.music.exercise import ALL_MARKS, WRITTEN_OUT, Exercise, Tempo

NARROW_PX = 600.0  # below: the size for a phone
SCALE_NARROW, SCALE_WIDE = 0.07, 0.08  # px an engraver's unit
FOOT_PX = 6.0
MARGIN_PX = 3.0
TEMPO_UNITS = 514.0


def engrave(  # noqa: PLR0913 - all that a page may wish for, each by its name
    exercise: Exercise,
    *,
    width: float,
    tempo: Tempo | None = None,
    id_prefix: str = "",
    show_sticking: bool = True,
    spacing: Spacing = "time",
    repeat: int | None = None,
    stroke_letters: Mapping[int, str] | Sequence[str] | None = None,
    rolls: Rolls = "written",
) -> EngravedExercise:
    """Engrave an exercise as lines of music.

    Parameters
    ----------
    exercise : Exercise
        With at least one note, all values above 0.
    width : float
        Room for a line, px; about 34 px a note are needed, 16 notes a line wanted. Where no
        chart stands under the notes (``repeat`` given, or ``spacing`` "note") 28 px do.
    tempo : Tempo, optional
        Written above the first line.
    id_prefix : str
        Given, each line's ``<svg>`` has the id ``<id_prefix>-<line from 1>``; nothing
        inside it ever has one.
    show_sticking : bool
        Write R and L under the heads, graces small.
    spacing : "time" or "note"
        Columns in proportion to written time (a note longer than eight of the
        shortest takes eight), or long notes drawn in and wide room only before graces: a
        printed page's.
    repeat : int, optional
        How often it is played: repeat signs at both ends and "× 8" behind the last. 1 is
        played once, with a plain end. Without it there is a sign at the end only.
    stroke_letters : mapping of position to text, or one text a position, optional
        Short texts (F, D, T, U) on a line of their own under the sticking; "" leaves one out.
    rolls : "written" or "short"
        "short" draws open rolls as slashed notes (``short_rolls.py`` says which). Notes inside
        a roll keep their places in the answer, but nothing is drawn there.

    Returns
    -------
    EngravedExercise
        All lines equally wide; the same time after a line's start stands at the same x.

    Raises
    ------
    CannotEngrave
        Where the exercise is none (no notes, a value of 0), where it is to be played less
        than once.
    """
    _check(exercise, repeat)
    score = score_of(exercise, rolls)
    options = EngravingOptions(tempo, id_prefix, show_sticking, repeat, _by_position(stroke_letters, score))
    scale = SCALE_NARROW if width < NARROW_PX else SCALE_WIDE
    columns = _columns(score.exercise, options, width=width, scale=scale, spacing=spacing)
    return _lines(Placing(score.exercise, columns, scale), score, options)


def _columns(
    exercise: Exercise, options: EngravingOptions, *, width: float, scale: float, spacing: Spacing
) -> LineColumns:
    """Place the notes, with no more room on the left than the lines' first notes need."""
    charted = spacing == "time" and options.repeat is None
    cuts: Iterable[int] = ()
    while True:
        left = left_px(exercise, cuts, options.repeat, scale)
        columns = columns_of(
            exercise,
            width=width,
            scale=scale,
            left_px=left,
            right_px=count_units(options.repeat) * scale,
            close_px=CLOSE_UNITS * scale,
            least_px=MIN_COLUMN_PX if charted else MIN_PRINTED_UNITS * scale,
            spacing=spacing,
        )
        if left_px(exercise, columns.cuts, options.repeat, scale) <= left:
            return columns
        cuts = {*cuts, *columns.cuts}  # grows, so it ends


def _check(exercise: Exercise, repeat: int | None) -> None:
    """Refuse what is no exercise."""
    if not exercise.notes:
        raise CannotEngrave(got="an exercise without notes")
    if undrawn := sorted(exercise.marks & (ALL_MARKS - WRITTEN_OUT)):
        raise CannotEngrave(got=f"an exercise with {', '.join(undrawn)}, which are not drawn yet")
    for position, note in enumerate(exercise.notes):
        if note.value <= 0:
            raise CannotEngrave(got=f"note {position} with the value {note.value}; must be above 0")
    if repeat is not None and repeat < 1:
        raise CannotEngrave(got=f"an exercise to play {repeat} times; must be 1 or more")


def _by_position(letters: Mapping[int, str] | Sequence[str] | None, score: DrawnScore) -> Mapping[int, str]:
    """Give each drawn note its letter; a note inside a roll has none."""
    if not letters:
        return {}
    asked_for = letters if isinstance(letters, Mapping) else dict(enumerate(letters))
    drawn = {at: asked_for.get(position, "") for at, position in enumerate(score.positions)}
    return {at: letter for at, letter in drawn.items() if letter and not score.exercise.notes[at].is_rest}


def _lines(placing: Placing, score: DrawnScore, options: EngravingOptions) -> EngravedExercise:
    scale = placing.scale
    slashes = {at: roll.slashes for at, roll in score.rolls.items()}
    stems = Stems(score.exercise, groups_of(score.exercise, placing.columns.cuts), slashes)
    inks = ink_of(placing, stems)
    draw_rolls(placing, stems, score.rolls, inks)
    draw_openings(inks, score.exercise.meter, CLEF_UNITS, METER_UNITS)
    above = max(MARGIN_PX - min(ink.top for ink in inks), 400 * scale)
    below = max(drop_units(options) * scale + FOOT_PX, MARGIN_PX + max(ink.bottom for ink in inks))
    edges = (*placing.columns.cuts, len(placing.exercise.notes))
    lines: list[EngravedLine] = []
    for index, (start, stop) in enumerate(pairwise(edges)):
        staff_y = above + (TEMPO_UNITS * scale if options.tempo and index == 0 else 0.0)
        line = LineOfMusic(
            placing,
            index,
            start,
            stop,
            ink=inks[index],
            staff_y=staff_y,
            height=round(staff_y + below, 2),
            options=options,
            rolls=score.rolls,
        )
        lines.append(
            EngravedLine(
                write_line(line), placing.columns.width, line.height, _notes(line, score), line.end_x
            )
        )
    return EngravedExercise(tuple(lines))


def _notes(line: LineOfMusic, score: DrawnScore) -> tuple[EngravedNote, ...]:
    """Return where the line's notes stand; those inside a roll in proportion to time."""
    columns, placing = line.placing.columns, line.placing
    notes: list[EngravedNote] = []
    for at in range(line.start, line.stop):
        position, x = score.positions[at], columns.x[at]
        notes.append(EngravedNote(position, x, placing.grace_x(at)))
        if at in score.rolls:
            inside = score.rolls[at].strokes - 1
            step = (placing.next_x(at) - x) / inside
            notes += [EngravedNote(position + k, x + k * step) for k in range(1, inside)]
    return tuple(notes)
