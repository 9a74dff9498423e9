"""List the forty standard rudiments, and the families of common practice beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenhand.acts.documents import json_of
from evenhand.music.book import Book, Entry
from evenhand.music.rudiments import RudimentFamily, families, rudiments
from evenhand.music.text import print_exercise

Families = Literal["none", "beside", "alone"]


@dataclass(frozen=True, slots=True)
class ListedRudiment:
    """One listed exercise. ``number`` is None where it is none of the forty."""

    number: int | None
    family: str
    entry: Entry


def list_rudiments(
    *, family: RudimentFamily | None = None, with_families: Families = "none"
) -> tuple[ListedRudiment, ...]:
    """List the forty, or one family of them, and the families of common practice beside or in their stead."""
    forty = [
        ListedRudiment(each.number, each.family, each.entry)
        for each in rudiments()
        if with_families != "alone" and family in {None, each.family}
    ]
    beside = families().entries if with_families != "none" else ()
    return (*forty, *(ListedRudiment(None, entry.section, entry) for entry in beside))


def as_book(listed: Sequence[ListedRudiment]) -> Book:
    """Put what is listed into a book."""
    title = "Rudiments" if listed and listed[0].number is not None else "Families of common practice"
    return Book(tuple(each.entry for each in listed), title)


def rudiments_json(listed: Sequence[ListedRudiment]) -> str:
    """Give what is listed as JSON: ``[{"number", "name", "family", "exercise"}]``."""
    written = [
        {
            "number": each.number,
            "name": each.entry.title,
            "family": each.family,
            "exercise": print_exercise(each.entry.exercise),
        }
        for each in listed
    ]
    return json_of(written)
