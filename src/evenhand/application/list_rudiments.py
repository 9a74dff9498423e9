"""List the forty standard rudiments, and the families of common practice beside them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenhand.craft.families import families
from evenhand.craft.rudiments import RudimentFamily, rudiments
from evenhand.craft.text import print_exercise
from evenhand.domain.book import Book, Entry

Families = Literal["none", "beside", "alone"]


@dataclass(frozen=True, slots=True)
class Listed:
    """One listed exercise. ``number`` is None where it is none of the forty."""

    number: int | None
    family: str
    entry: Entry


def list_rudiments(
    *, family: RudimentFamily | None = None, with_families: Families = "none"
) -> tuple[Listed, ...]:
    """List the forty, or one family of them, and the families of common practice beside or in their stead."""
    forty = [
        Listed(each.number, each.family, each.entry)
        for each in rudiments()
        if with_families != "alone" and family in {None, each.family}
    ]
    beside = families().entries if with_families != "none" else ()
    return (*forty, *(Listed(None, entry.section, entry) for entry in beside))


def as_book(listed: Sequence[Listed]) -> Book:
    """Put what is listed into a book."""
    title = "Rudiments" if listed and listed[0].number is not None else "Families of common practice"
    return Book(tuple(each.entry for each in listed), title)


def rudiments_json(listed: Sequence[Listed]) -> str:
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
    return json.dumps(written, ensure_ascii=False, indent=2) + "\n"
