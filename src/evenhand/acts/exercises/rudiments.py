"""List the forty standard rudiments, and up to which rung of its ladder each was heard in control."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import get_args

from evenhand.acts.documents import json_of
from evenhand.music.book import Book
from evenhand.music.exercise import whole_note_s
from evenhand.music.library.forty import Rung, ladder, rungs_reached
from evenhand.music.rudiments import Rudiment, RudimentFamily, rudiments
from evenhand.music.text import print_exercise
from evenhand.progress.history import History

RUNGS: tuple[Rung, ...] = get_args(Rung)
FEWEST, IN_CONTROL = 8, 0.75  # repetitions, and the share of them: as a tempo ceiling asks


def list_rudiments(family: RudimentFamily | None = None) -> tuple[Rudiment, ...]:
    """List the forty, or one family of them."""
    return tuple(each for each in rudiments() if family in {None, each.family})


@dataclass(frozen=True, slots=True)
class HeardRung:
    """What was heard at a rung's tempo or faster: repetitions, how many in control, and the newest day."""

    repetitions: int
    controlled: int
    newest: date | None

    @property
    def in_control(self) -> bool:
        """Tell whether there were enough, and three of four in control, as for a tempo ceiling."""
        return self.repetitions >= FEWEST and self.controlled >= IN_CONTROL * self.repetitions


def heard_rungs(rudiment: Rudiment, history: History) -> tuple[HeardRung, ...]:
    """Return what was heard at each of a rudiment's three rungs, in takes of just its text."""
    notes = rudiment.entry.exercise.notes
    tried = [
        (rungs_reached(rudiment, whole_note_s(each.tempo_bpm, take.tempo.beat)), each.controlled, take.day)
        for take in history.takes
        if take.clear and take.exercise.notes == notes
        for each in take.tried
    ]
    rungs = ([row for row in tried if row[0] > rung] for rung in range(len(RUNGS)))
    return tuple(
        HeardRung(len(rows), sum(row[1] for row in rows), max((row[2] for row in rows), default=None))
        for rows in rungs
    )


def rungs_heard(rudiment: Rudiment, history: History) -> int:
    """Return up to which rung of its ladder a rudiment was heard in control, 0 to 3."""
    rungs = enumerate(heard_rungs(rudiment, history), start=1)
    return max((number for number, rung in rungs if rung.in_control), default=0)


def as_book(listed: Sequence[Rudiment]) -> Book:
    """Put what is listed into a book."""
    return Book(tuple(each.entry for each in listed), "Rudiments")


def rudiments_json(listed: Sequence[Rudiment], history: History | None = None) -> str:
    """Give what is listed as JSON: ``[{"number", "name", "family", "exercise", "ladder"}]``.

    With a history, ``heard`` counts the rungs that were heard in control.
    """
    written = [
        {
            "number": each.number,
            "name": each.name,
            "family": each.family,
            "exercise": print_exercise(each.entry.exercise),
            "ladder": [str(tempo) for tempo in ladder(each)],
            **({} if history is None else {"heard": rungs_heard(each, history)}),
        }
        for each in listed
    ]
    return json_of(written)
