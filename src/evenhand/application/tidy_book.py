"""Tidy a shelf of books: find the same exercises, drop them, sort; and give it as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from evenhand.application.keep_book import Placed, Shelf, natural
from evenhand.craft.alike import Turn, same_groups, turn_between
from evenhand.craft.text import print_exercise

UpTo = Literal["none", "rotation", "swap", "rotation-swap"]
SortedBy = Literal["section", "title", "notes"]

_ORDERS: Mapping[SortedBy, Callable[[Placed], Any]] = {
    "section": lambda _placed: 0,
    "title": lambda placed: natural(placed.entry.title),
    "notes": lambda placed: len(placed.entry.exercise.struck),
}


@dataclass(frozen=True, slots=True)
class Same:
    """An exercise, and the later ones that are the same, each with how it is got from the first."""

    first: Placed
    others: tuple[tuple[Placed, Turn], ...]


@dataclass(frozen=True, slots=True)
class TidyBook:
    """What is kept of how many files, which were the same, and how many of those were dropped."""

    shelf: Shelf
    same: tuple[Same, ...]
    files: int
    dropped: int = 0


def tidy(
    shelf: Shelf,
    *,
    up_to: UpTo = "rotation-swap",
    without_same: bool = False,
    sorted_by: SortedBy | None = None,
) -> TidyBook:
    """Find the exercises that are the same; drop all but the first of each, and sort, where wanted."""
    same = same_on(shelf, up_to)
    kept = shelf.placed
    if without_same:
        gone = {id(other) for group in same for other, _ in group.others}
        kept = tuple(placed for placed in kept if id(placed) not in gone)
    if sorted_by is not None:
        kept = _sorted(kept, sorted_by)
    files = len({placed.file for placed in shelf.placed})
    return TidyBook(replace(shelf, placed=kept), same, files, len(shelf.placed) - len(kept))


def same_on(shelf: Shelf, up_to: UpTo) -> tuple[Same, ...]:
    """Group the exercises that are the same, the groups and their members in the shelf's order."""
    rotation, swap = "rotation" in up_to, "swap" in up_to
    groups = same_groups([placed.entry for placed in shelf.placed], rotation=rotation, swap=swap)
    return tuple(
        _same([shelf.placed[index] for index in group], rotation=rotation, swap=swap) for group in groups
    )


def _same(placed: Sequence[Placed], *, rotation: bool, swap: bool) -> Same:
    first, *others = placed
    turns = [
        turn_between(first.entry.exercise, other.entry.exercise, rotation=rotation, swap=swap)
        for other in others
    ]
    found = [(other, turn) for other, turn in zip(others, turns, strict=True) if turn is not None]
    return Same(first, tuple(found))


def _sorted(placed: Sequence[Placed], sorted_by: SortedBy) -> tuple[Placed, ...]:
    """Gather each section where it first stands, and sort inside it; ties stay as they stood."""
    sections: dict[str, list[Placed]] = {}
    for each in placed:
        sections.setdefault(each.entry.section, []).append(each)
    order = _ORDERS[sorted_by]
    return tuple(each for section in sections.values() for each in sorted(section, key=order))


def book_json(tidied: TidyBook) -> str:
    """Give a tidy book as JSON; ``docs/book.md`` has the shape."""
    written = {
        "title": tidied.shelf.title,
        "count": len(tidied.shelf.placed),
        "dropped": tidied.dropped,
        "exercises": [_placed_json(placed) for placed in tidied.shelf.placed],
        "same": [_same_json(same) for same in tidied.same],
    }
    return json.dumps(written, ensure_ascii=False, indent=2) + "\n"


def _placed_json(placed: Placed) -> dict[str, Any]:
    entry = placed.entry
    return {
        "exercise": print_exercise(entry.exercise),
        "title": entry.title,
        "section": entry.section,
        "file": str(placed.file),
        "line": placed.line,
    }


def _same_json(same: Same) -> dict[str, Any]:
    others = [
        {**_placed_json(other), "notes_later": turn.notes_later, "hands_swapped": turn.hands_swapped}
        for other, turn in same.others
    ]
    return {**_placed_json(same.first), "others": others}
