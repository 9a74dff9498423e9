"""A week copied to another student, its tempos set by where that student stands.

The rule: of each exercise with its stroke, the fastest tempo of the week becomes the one that the student's
own standing says (``planning.standing``: under the ceiling, slower where control was lost), and its other
tempos keep their share of it, so that slow blocks stay slow and a week that climbs still climbs. Of what was
never heard of the student nothing is known: the tempos stay as they were. Notes, strokes, times, goes and
rests are copied; the words to the other student and the two sentences of the week are not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from evenhand.music.beat import click_tempo
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import print_exercise
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.planning.standing import Standing, exercise_standing
from evenhand.progress.history import History

Piece = tuple[Exercise, StrokeClass | None]


@dataclass(frozen=True, slots=True)
class CopiedPiece:
    """What became of an exercise's fastest tempo, and where the student stands with it."""

    text: str
    title: str
    stroke: StrokeClass | None
    was: Tempo
    now: Tempo
    standing: Standing

    @property
    def is_known(self) -> bool:
        """Whether the student was ever heard with it."""
        return self.standing.next_s is not None


def copied_plan(plan: PracticePlan, history: History) -> tuple[PracticePlan, tuple[CopiedPiece, ...]]:
    """Copy a plan for the student of a history; say of each exercise what became of its tempo."""
    fastest: dict[Piece, PracticeItem] = {}
    for item in (item for day in plan.days for item in day.items):
        piece = item.exercise, item.stroke
        if piece not in fastest or item.tempo.whole_note_s < fastest[piece].tempo.whole_note_s:
            fastest[piece] = item
    standings = {piece: exercise_standing(piece[0], history.takes, stroke=piece[1]) for piece in fastest}
    pieces = [
        CopiedPiece(
            print_exercise(item.exercise),
            item.title,
            item.stroke,
            item.tempo,
            _set(item, item, standings[piece]),
            standings[piece],
        )
        for piece, item in fastest.items()
    ]
    days = tuple(
        replace(day, items=tuple(_copied(item, fastest, standings) for item in day.items))
        for day in plan.days
    )
    return replace(plan, days=days, student="", starts=None, story=()), tuple(pieces)


def _copied(
    item: PracticeItem, fastest: Mapping[Piece, PracticeItem], standings: Mapping[Piece, Standing]
) -> PracticeItem:
    piece = item.exercise, item.stroke
    return replace(item, tempo=_set(item, fastest[piece], standings[piece]), why=())


def _set(item: PracticeItem, fastest: PracticeItem, standing: Standing) -> Tempo:
    """Return an item's tempo where the fastest of its exercise is what the standing says, on its own beat."""
    if standing.next_s is None:
        return item.tempo
    share = item.tempo.whole_note_s / fastest.tempo.whole_note_s
    return click_tempo(item.exercise, standing.next_s * share, item.tempo.beat)
