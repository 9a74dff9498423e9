"""Two takes of one exercise in one folded picture: their repetitions in turns, the first take's on a stripe.

Conventions: ms, negative = early. Each take is drawn around its own middle where it lies off its clock as a
whole, and its levels (dB) around their own median, since two recordings are seldom made at one distance.
Early and late are against the click only where both takes have one; else each against its own smooth tempo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from evenhand.measuring.values import HeardTake, audible_ms
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.report.plots.shell import fold, prose_lines
from evenhand.report.take.folded import Folded
from evenhand.report.take.layout import Scale, centre_of, interval_of, lay_out_rows
from evenhand.report.take.picture import figure_of
from evenhand.report.take.rows import Row, rows_of
from evenhand.report.words.take import picture_words, times_words
from evenhand.take import Clock

MOST_PAIRS = 12  # repetitions of each: beyond that the rows would fold, and mix the two


def turns_figure(
    first: HeardTake,
    second: HeardTake,
    wide: EngravedExercise | None,
    narrow: EngravedExercise | None,
    *,
    names: tuple[str, str] = ("the first take", "the second"),
    mark: str = "A",
) -> str:
    """Return the repetitions of two takes of the same notes in turns; "" where one has none.

    ``mark`` stands before each row of the first take.
    """
    clock: Clock = "click" if first.heard.clock == second.heard.clock == "click" else "smooth"
    own, other = _rows(first, clock), _rows(second, clock)
    exercise = second.exercise
    if exercise is None or not own or not other:
        return ""
    pairs = list(zip(own, other, strict=False))[:MOST_PAIRS]
    rows = tuple(row for one, two in pairs for row in (replace(one, label=mark), two))
    laid = lay_out_rows(rows, exercise, interval_of(second), wide, narrow)
    said = [
        f"{name[:1].upper()}{name[1:]}: {line}"
        for name, those in zip(names, zip(*pairs, strict=True), strict=True)
        for line in picture_words(those, laid.scale, exercise, ())
    ]
    folded = Folded(rows, exercise, {}, " ".join(said))
    how = " ".join(_caption(names, mark, len(pairs), clock, laid.scale))
    return figure_of(folded, (laid.desk, laid.phone), how) + fold(
        "The picture in words", prose_lines(said), class_="words"
    )


def _rows(take: HeardTake, clock: Clock) -> Sequence[Row]:
    """Sort a take into rows whose times and levels lie around their own middle; gaps are left out."""
    if take.exercise is None:
        return ()
    rows = rows_of(replace(take.heard, clock=clock), take.exercise)
    marks = [mark for row in rows for mark in row.marks]
    if not marks:
        return ()
    lates = [mark.late_ms for mark in marks if mark.late_ms is not None]
    late = centre_of(lates, audible_ms(interval_of(take)))
    level = median(mark.level_db for mark in marks)
    return [_around(row, late, level) for row in rows]


def _around(row: Row, late_ms: float, level_db: float) -> Row:
    marks = tuple(
        replace(
            mark,
            late_ms=None if mark.late_ms is None else mark.late_ms - late_ms,
            level_db=mark.level_db - level_db,
        )
        for mark in row.marks
    )
    graces = tuple(replace(grace, level_db=grace.level_db - level_db) for grace in row.graces)
    return replace(row, marks=marks, graces=graces, gap=None)


def _caption(names: tuple[str, str], mark: str, pairs: int, clock: str, scale: Scale) -> list[str]:
    """Say how to read two takes whose repetitions stand in turns."""
    first, second = names
    zero = "the click" if clock == "click" else "each take's own smooth tempo"
    return [
        f"Each row marked {mark}, on a stripe, is {first}; the row under it is {second}.",
        f"They are of the same repetition; there are {pairs} of each.",
        f"Left of the thin line is early against {zero}, right is late, drawn {times_words(scale.factor)}.",
        "A longer stick is louder.",
        "Each take is drawn around its own middle, in time and in level.",
    ]
