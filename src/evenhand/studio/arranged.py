"""The order of the book's exercises: one of them, or a whole section, goes up, down, or before another.

Conventions: the order is that of the page, where what is of one section stands together; whatever is moved,
all exercises are counted anew in it. What cannot go further stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from evenhand.studio.values import BookEntry

Entries = list[BookEntry]


def by_section(entries: Sequence[BookEntry]) -> Entries:
    """Put what is of one section together, where the first of it stands."""
    places = {section: at for at, section in enumerate(dict.fromkeys(each.section for each in entries))}
    return sorted(entries, key=lambda entry: places[entry.section])


def stepped(entries: Sequence[BookEntry], entry_id: str, by: int) -> Entries:
    """Move an exercise up (-1) or down (1) among those of its section."""
    ordered = by_section(entries)
    at = next((place for place, each in enumerate(ordered) if each.id == entry_id), None)
    if at is not None and 0 <= at + by < len(ordered) and ordered[at + by].section == ordered[at].section:
        ordered[at], ordered[at + by] = ordered[at + by], ordered[at]
    return _counted(ordered)


def put_beside(entries: Sequence[BookEntry], entry_id: str, other_id: str, *, after: bool) -> Entries:
    """Move an exercise before another or after it, into that one's section."""
    ordered = by_section(entries)
    entry = next((each for each in ordered if each.id == entry_id), None)
    other = next((each for each in ordered if each.id == other_id), None)
    if entry is None or other is None or entry is other:
        return _counted(ordered)
    ordered.remove(entry)
    ordered.insert(ordered.index(other) + after, replace(entry, section=other.section))
    return _counted(ordered)


def put_at(entries: Sequence[BookEntry], entry_id: str, number: int) -> Entries:
    """Move an exercise to a place among those of its section, counted from 1; beyond the last is the last."""
    entry = next((each for each in entries if each.id == entry_id), None)
    own = [each.id for each in by_section(entries) if entry is not None and each.section == entry.section]
    if entry is None or not own:
        return list(entries)
    other = own[min(max(number, 1), len(own)) - 1]
    return put_beside(entries, entry_id, other, after=own.index(other) > own.index(entry_id))


def section_stepped(entries: Sequence[BookEntry], section: str, by: int) -> Entries:
    """Move a whole section up (-1) or down (1)."""
    groups = [list(group) for _, group in groupby(by_section(entries), key=lambda entry: entry.section)]
    at = next((place for place, group in enumerate(groups) if group[0].section == section), None)
    if at is not None and 0 <= at + by < len(groups):
        groups[at], groups[at + by] = groups[at + by], groups[at]
    return _counted([entry for group in groups for entry in group])


@dataclass(frozen=True, slots=True)
class BookPlace:
    """Where an exercise stands: among all, from 0; and which it is of its section's, from 1."""

    at: int
    number: int
    of: int


def place_of(entries: Sequence[BookEntry], entry_id: str) -> BookPlace:
    """Say where an exercise of the book stands."""
    ordered = by_section(entries)
    at = next(place for place, each in enumerate(ordered) if each.id == entry_id)
    own = [each.id for each in ordered if each.section == ordered[at].section]
    return BookPlace(at, own.index(entry_id) + 1, len(own))


def _counted(ordered: Sequence[BookEntry]) -> Entries:
    """Count exercises in their order."""
    return [replace(entry, position=place) for place, entry in enumerate(ordered)]
