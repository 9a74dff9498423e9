"""Exercise -> engraved lines whose notes' places are known.

Conventions: px-like units. Notes stand in proportion to written time, so that a chart
under them measures ms the same everywhere. The same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from evenhand.errors import CannotEngrave
from evenhand.music.engraving.barlines import Barlines, count_units, draw_endings, left_units
from evenhand.music.engraving.beneath import (
    LARGE_EM_UNITS,
    LETTER_HALF_EM,
    Beneath,
    EngravingOptions,
    counting_of,
    rows_of,
)
from evenhand.music.engraving.columns import (
    MIN_COLUMN_PX,
    MIN_PRINTED_UNITS,
    LineColumns,
    Page,
    Placing,
    Spacing,
    columns_of,
)
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.engraving.extents import Extents
from evenhand.music.engraving.ink import LineInk, ink_of
from evenhand.music.engraving.line import LineOfMusic, write_line
from evenhand.music.engraving.rolls import Rolls
from evenhand.music.engraving.score import DrawnScore, score_of
from evenhand.music.engraving.stems import Stems
from evenhand.music.exercise import Exercise, Tempo

NARROW_PX = 600.0
NUMBER_EM_UNITS = 200.0
NUMBER_GAP_UNITS = 60.0  # between a roll's number and what it stands over
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
    rolls : "written", "typed" or "short"
        "typed" draws rolls and repeats as they were typed, "short" open rolls as slashed notes, too
        (``rolls.py`` says which). Notes inside a roll keep their places in the answer, but nothing is
        drawn there.

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
    printed = spacing == "note"
    options = EngravingOptions(
        tempo, id_prefix, show_sticking, repeat, _by_position(stroke_letters, score), large=printed
    )
    scale = SCALE_NARROW if width < NARROW_PX else SCALE_WIDE
    columns, extents = _columns(score, options, width=width, scale=scale, spacing=spacing)
    return _lines(Placing(score.exercise, columns, scale), extents, score, options)


def _extents(score: DrawnScore, cuts: tuple[int, ...], options: EngravingOptions) -> Extents:
    slashes = {at: roll.slashes for at, roll in score.rolls.items()}
    inner = frozenset(at for at, marks in enumerate(score.marks) if not marks)
    letters = LARGE_EM_UNITS * LETTER_HALF_EM if options.large and options.show_sticking else 0.0
    return Extents(Stems(score.exercise, cuts, slashes), score.opens, score.closes, inner, letters)


def _columns(
    score: DrawnScore, options: EngravingOptions, *, width: float, scale: float, spacing: Spacing
) -> tuple[LineColumns, Extents]:
    """Place the notes, with no more room on the left than the lines' first notes need; and their ink."""
    charted = spacing == "time" and options.repeat is None
    cuts: tuple[int, ...] = (0,)
    while True:
        extents = _extents(score, cuts, options)
        lefts = {cut: left_units(extents, cut, options.repeat) * scale for cut in cuts}
        left = max(lefts.values())
        least = MIN_COLUMN_PX if charted else MIN_PRINTED_UNITS * scale
        page = Page(width, scale, left, count_units(options.repeat) * scale, least, lefts)
        columns = columns_of(extents, page, spacing)
        if set(columns.cuts) <= set(cuts):
            return columns, extents if columns.cuts == cuts else _extents(score, columns.cuts, options)
        cuts = tuple(sorted({*cuts, *columns.cuts}))  # grows, so it ends


def _check(exercise: Exercise, repeat: int | None) -> None:
    """Refuse what is no exercise."""
    if not exercise.notes:
        raise CannotEngrave(got="an exercise without notes")
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


def _lines(
    placing: Placing, extents: Extents, score: DrawnScore, options: EngravingOptions
) -> EngravedExercise:
    scale, cuts = placing.scale, placing.columns.cuts
    inks = ink_of(placing, extents.stems, score.silent)
    draw_numbers(placing, extents.stems, score, inks)
    edges = tuple(pairwise((*cuts, len(placing.exercise.notes))))
    rows = rows_of(score.exercise, options)
    counting = dict(enumerate(counting_of(score.exercise))) if rows.counting is not None else {}
    letters: list[tuple[str, ...]] = []
    for index, (start, stop) in enumerate(edges):
        Barlines(placing, extents, score, inks[index], index, start, stop, options.repeat).draw()
        beneath = Beneath(placing, options, rows, counting, inks[index], index, start, stop)
        beneath.draw_dynamics()
        letters.append(tuple(beneath.texts()))
    draw_endings(placing, extents, score, inks)
    above = max(MARGIN_PX - min(ink.top for ink in inks), 400 * scale)
    below = max(rows.foot * scale + FOOT_PX, MARGIN_PX + max(ink.bottom for ink in inks))
    lines: list[EngravedLine] = []
    for index, (start, stop) in enumerate(edges):
        staff_y = above + (TEMPO_UNITS * scale if options.tempo and index == 0 else 0.0)
        line = LineOfMusic(
            placing,
            index,
            start,
            stop,
            ink=inks[index],
            letters=letters[index],
            staff_y=staff_y,
            height=round(staff_y + below, 2),
            options=options,
            score=score,
        )
        width = placing.columns.width
        lines.append(EngravedLine(write_line(line), width, line.height, _notes(line), line.end_x))
    return EngravedExercise(tuple(lines))


def draw_numbers(placing: Placing, stems: Stems, score: DrawnScore, inks: tuple[LineInk, ...]) -> None:
    """Write every short roll's number over it."""
    size = NUMBER_EM_UNITS * placing.scale
    for at, roll in score.rolls.items():
        if roll.strokes and not score.exercise.notes[at].held:
            foot = (stems.top_over(at) - NUMBER_GAP_UNITS) * placing.scale
            style = 'class="roll" font-family="serif" text-anchor="middle"'
            ink = inks[placing.line_of(at)].of("number", at)
            ink.text(
                str(roll.strokes), placing.columns.x[at], foot, size, style, 0.5 * len(str(roll.strokes))
            )


def _notes(line: LineOfMusic) -> tuple[EngravedNote, ...]:
    """Return where the line's positions stand; those inside a piece in proportion to time."""
    placing = line.placing
    notes: list[EngravedNote] = []
    for at in range(line.start, line.stop):
        x = placing.columns.x[at]
        room = placing.next_x(at) - x
        for position, share in line.score.marks[at]:
            graces = () if share else placing.grace_x(at)
            notes.append(EngravedNote(position, x + share * room, graces))
    return tuple(notes)
