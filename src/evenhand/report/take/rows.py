"""Rows of the folded picture: each repetition of a take becomes a row of marks.

Conventions: ms, negative = early; levels in dB; positions count from 0, repetitions
from 1. Where a stop falls inside a repetition, the repetition has two rows.

A picture that is given no engraving stands under plain heads and letters: px, y downwards; notes stand
evenly, whatever their values.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.exercise import Exercise, Hand
from evenhand.report.plots.markup import el, esc, px, svg, text_at
from evenhand.report.words.figures import duration
from evenhand.take import ExtraHit, ExtraReason, Heard, Hit, MissedNote


@dataclass(frozen=True, slots=True)
class Mark:
    """One hit on its note. ``late_ms`` is None where nothing tells how late it is."""

    position: int
    hand: Hand
    time_s: float
    level_db: float
    late_ms: float | None


@dataclass(frozen=True, slots=True)
class GraceMark:
    """A grace note; ``gap_ms`` is how far ahead of its main hit, None where that was not heard."""

    position: int
    hand: Hand
    level_db: float
    gap_ms: float | None


@dataclass(frozen=True, slots=True)
class ExtraMark:
    """An extra hit: ``share`` of the way from the note before it to the note after it."""

    before: int | None
    after: int | None
    share: float
    reason: ExtraReason = "between"

    @property
    def inside(self) -> bool:
        """Tell whether it stands in the playing: what came before or after has no place in the music."""
        return self.reason in {"between", "too soft"}


@dataclass(frozen=True, slots=True)
class Row:
    """One time through. ``gap`` is a word for what happened before it, else None."""

    repetition: int
    stretch: int
    marks: tuple[Mark, ...]
    graces: tuple[GraceMark, ...] = ()
    missed: tuple[MissedNote, ...] = ()
    hidden: tuple[MissedNote, ...] = ()
    extra: tuple[ExtraMark, ...] = ()
    gap: str | None = None
    label: str | None = None  # in place of its number

    @property
    def span(self) -> tuple[int, int]:
        """First and last position that this row reaches."""
        reached = [
            *(mark.position for mark in self.marks),
            *(note.position for note in (*self.missed, *self.hidden)),
            *(grace.position for grace in self.graces),
        ]
        return (min(reached), max(reached)) if reached else (0, -1)


def rows_of(heard: Heard, exercise: Exercise) -> tuple[Row, ...]:
    """Sort what was heard into rows, with the gaps between them in words."""
    placed = [hit for hit in heard.hits if hit.position is not None and hit.repetition is not None]
    bare = [
        _row(key, list(hits), click=heard.clock == "click")
        for key, hits in groupby(placed, key=lambda hit: (hit.repetition or 0, hit.stretch))
    ]
    filled = _with_unheard(bare, [*heard.missed, *heard.hidden], set(heard.hidden))
    return _with_gaps(_with_extra(filled, heard.extra), exercise)


def _row(key: tuple[int, int], hits: Sequence[Hit], *, click: bool) -> Row:
    mains = {hit.position: hit for hit in hits if not hit.grace}
    marks = tuple(_mark(hit, click=click) for hit in hits if not hit.grace)
    graces = tuple(_grace(hit, mains.get(hit.position)) for hit in hits if hit.grace)
    return Row(key[0], key[1], marks, graces)


def _mark(hit: Hit, *, click: bool) -> Mark:
    first, second = hit.asynchrony_ms, hit.deviation_ms
    if not click:
        first, second = second, first
    late = first if first is not None else second
    return Mark(hit.position or 0, hit.hand or "R", hit.time_s, hit.level_db, late)


def _grace(hit: Hit, main: Hit | None) -> GraceMark:
    gap = None if main is None else (main.time_s - hit.time_s) * 1000
    return GraceMark(hit.position or 0, hit.hand or "R", hit.level_db, gap)


def _with_unheard(rows: list[Row], notes: Sequence[MissedNote], hidden: AbstractSet[MissedNote]) -> list[Row]:
    """Give each note, missed or hidden, to the row of its repetition that reaches it, or open a row."""
    for note in notes:
        own = [i for i, row in enumerate(rows) if row.repetition == note.repetition]
        if not own:
            at = sum(row.repetition < note.repetition for row in rows)
            rows.insert(at, Row(note.repetition, rows[at - 1].stretch if at else 0, ()))
        else:
            at = next((i for i in own if rows[i].span[1] >= note.position), own[-1])
        row = rows[at]
        if note in hidden:
            rows[at] = replace(row, hidden=(*row.hidden, note))
        else:
            rows[at] = replace(row, missed=(*row.missed, note))
    return rows


def _with_extra(rows: list[Row], extra: Sequence[ExtraHit]) -> list[Row]:
    """Place each extra hit by its time between the hits around it."""
    hits = sorted((mark.time_s, i, mark.position) for i, row in enumerate(rows) for mark in row.marks)
    found: dict[int, list[ExtraMark]] = {}
    for hit in extra:
        index, before, after, share = _between(hits, hit.time_s)
        found.setdefault(index, []).append(ExtraMark(before, after, share, hit.reason))
    return [replace(row, extra=tuple(found.get(i, ()))) for i, row in enumerate(rows)]


def _between(
    hits: Sequence[tuple[float, int, int]], time_s: float
) -> tuple[int, int | None, int | None, float]:
    """Return a time's row, the notes before and after it there, and the share of the way between them."""
    at = bisect_right(hits, (time_s, len(hits), 0))
    before = hits[at - 1] if at else None
    after = hits[at] if at < len(hits) else None
    if before is None:
        return (0, None, None, 0.5) if after is None else (after[1], None, after[2], 0.5)
    if after is None:
        return before[1], before[2], None, 0.5
    share = (time_s - before[0]) / max(after[0] - before[0], 1e-9)
    to = after[2] if after[1] == before[1] and after[2] > before[2] else None
    return before[1], before[2], to, share


def _with_gaps(rows: Sequence[Row], exercise: Exercise) -> tuple[Row, ...]:
    last = exercise.struck[-1] if exercise.struck else 0
    later = [replace(row, gap=_gap_words(earlier, row, last)) for earlier, row in pairwise(rows)]
    return (*rows[:1], *later)


def _gap_words(earlier: Row, row: Row, last: int) -> str | None:
    """Say what lies between two rows: a stop, a new start, both, or nothing."""
    broken = earlier.span[1] < last and row.repetition != earlier.repetition
    again = "from the top" if broken and row.span[0] == 0 else ""
    if row.stretch == earlier.stretch:
        return again or None
    if not (earlier.marks and row.marks):
        return "stopped"
    pause = duration(row.marks[0].time_s - earlier.marks[-1].time_s)
    return f"stopped {pause}, {again}" if again else f"stopped {pause}"


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
        el("text", written.letter, x=note.x, y=LETTER_Y, text_anchor="middle", font_size="14"),
        accent if written.accent else "",
    ]
    for x, hand in zip(note.grace_x, written.graces, strict=True):
        parts += [_head(x, HEAD_PX * 0.6), text_at(x - 3, LETTER_Y, hand.lower())]
    return "".join(parts)


def _head(x: float, radius: float) -> str:
    return el("ellipse", cx=x, cy=STAFF_Y, rx=radius, ry=radius * 0.8, fill="currentColor", stroke="none")
