"""List the forty standard rudiments."""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.acts.documents import json_of
from evenhand.music.book import Book
from evenhand.music.rudiments import Rudiment, RudimentFamily, rudiments
from evenhand.music.text import print_exercise


def list_rudiments(family: RudimentFamily | None = None) -> tuple[Rudiment, ...]:
    """List the forty, or one family of them."""
    return tuple(each for each in rudiments() if family in {None, each.family})


def as_book(listed: Sequence[Rudiment]) -> Book:
    """Put what is listed into a book."""
    return Book(tuple(each.entry for each in listed), "Rudiments")


def rudiments_json(listed: Sequence[Rudiment]) -> str:
    """Give what is listed as JSON: ``[{"number", "name", "family", "exercise", "ladder"}]``."""
    from evenhand.music.library.forty import ladder

    written = [
        {
            "number": each.number,
            "name": each.name,
            "family": each.family,
            "exercise": print_exercise(each.entry.exercise),
            "ladder": [str(tempo) for tempo in ladder(each)],
        }
        for each in listed
    ]
    return json_of(written)
