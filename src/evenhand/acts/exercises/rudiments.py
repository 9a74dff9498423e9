"""List the forty standard rudiments, and up to which rung of its ladder each was heard in control."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.acts.documents import json_of
from evenhand.music.book import Book
from evenhand.music.exercise import whole_note_s
from evenhand.music.library.forty import ladder, rungs_reached
from evenhand.music.rudiments import Rudiment, RudimentFamily, rudiments
from evenhand.music.text import print_exercise
from evenhand.progress.history import History

RUNGS = 3
FEWEST, IN_CONTROL = 8, 0.75  # repetitions, and the share of them: as a tempo ceiling asks


def list_rudiments(family: RudimentFamily | None = None) -> tuple[Rudiment, ...]:
    """List the forty, or one family of them."""
    return tuple(each for each in rudiments() if family in {None, each.family})


def rungs_heard(rudiment: Rudiment, history: History) -> int:
    """Return up to which rung of its ladder a rudiment was heard in control, 0 to 3.

    Of the repetitions as fast as a rung or faster, there must be enough, and three of four in control, as
    for a tempo ceiling (``progress.ceiling``).
    """
    notes = rudiment.entry.exercise.notes
    tried = [
        (rungs_reached(rudiment, whole_note_s(each.tempo_bpm, take.tempo.beat)), each.controlled)
        for take in history.takes
        if take.clear and take.exercise.notes == notes
        for each in take.tried
    ]
    heard = 0
    for rung in range(1, RUNGS + 1):
        there = [controlled for reached, controlled in tried if reached >= rung]
        if len(there) >= FEWEST and sum(there) >= IN_CONTROL * len(there):
            heard = rung
    return heard


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
