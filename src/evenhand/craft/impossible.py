"""Say why no sticking is as it was asked for: what cannot go together, found by trying, in words.

Conventions: ``kept_by[s]`` counts the stickings whose properties are exactly those of the set ``s``, a whole
number with one bit a property. A set of properties cannot be had together if no sticking keeps all of it;
the smallest such set is what is said. All stickings are gone through once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import chain, combinations

import numpy as np
from numpy.typing import NDArray

from evenhand.craft.generating import blocks
from evenhand.craft.necklaces import Codes
from evenhand.craft.properties import Bools, Property, Wanted, asked

Counts = NDArray[np.int64]


def why_none(wanted: Wanted) -> str | None:
    """Say why there is no sticking as wanted, or None where there are some."""
    properties = asked(wanted)
    kept_by = _kept_by(wanted.length, properties)
    everything = tuple(range(len(properties)))
    if _how_many(kept_by, everything):
        return None
    conflict = _smallest_conflict(kept_by, everything)
    parts = [
        _says_none(wanted.length, [properties[i] for i in conflict]),
        _what_there_is(wanted.length, properties, conflict),
        _given_up(kept_by, properties),
    ]
    return " ".join(part for part in parts if part)


def _kept_by(n: int, properties: tuple[Property, ...]) -> Counts:
    """Count the stickings by which properties they have."""
    counts = np.zeros(2 ** len(properties), dtype=np.int64)
    for codes in blocks(n):
        kept = np.zeros(codes.shape, dtype=np.int64)
        for bit, each in enumerate(properties):
            kept |= each.holds(codes).astype(np.int64) << bit
        counts += np.bincount(kept, minlength=counts.size)
    return counts


def _how_many(kept_by: Counts, of: Iterable[int]) -> int:
    """Count the stickings that have at least these properties."""
    wanted = sum(1 << bit for bit in of)
    return int(kept_by[(np.arange(kept_by.size) & wanted) == wanted].sum())


def _smallest_conflict(kept_by: Counts, everything: tuple[int, ...]) -> tuple[int, ...]:
    """Return the first smallest set of properties that cannot be had together."""
    sets = chain.from_iterable(combinations(everything, size) for size in range(1, len(everything) + 1))
    return next(some for some in sets if not _how_many(kept_by, some))


def _says_none(n: int, conflict: list[Property]) -> str:
    notes = "1 note" if n == 1 else f"{n} notes"
    if len(conflict) == 1:
        reason = f": {conflict[0].never}" if conflict[0].never else ""
        return f"No sticking of {notes} has {conflict[0].words}{reason}."
    return f"With {notes}, {_listed(conflict)} do not go together."


def _what_there_is(n: int, properties: tuple[Property, ...], conflict: tuple[int, ...]) -> str:
    """Say what the last of the conflict that counts something comes to under the others."""
    counted = [(i, properties[i].quantity) for i in conflict if not properties[i].never]
    i, quantity = next(((i, each) for i, each in reversed(counted) if each is not None), (-1, None))
    if quantity is None:
        return ""
    others = [properties[j] for j in conflict if j != i]
    values: set[int] = set()
    for codes in blocks(n):
        values.update(np.unique(quantity.of(codes[_all_of(others, codes)])).tolist())
    said = quantity.says(_values(sorted(values), quantity.names))
    return f"With {_listed(others)}, {said}." if others else f"{said[0].upper()}{said[1:]}."


def _all_of(properties: list[Property], codes: Codes) -> Bools:
    kept = np.ones(codes.shape, dtype=np.bool_)
    for each in properties:
        kept &= each.holds(codes)
    return kept


def _given_up(kept_by: Counts, properties: tuple[Property, ...]) -> str:
    """Say what there would be if one property of all that were asked were given up."""
    if len(properties) < 2:
        return ""
    everything = range(len(properties))
    left = {i: _how_many(kept_by, (j for j in everything if j != i)) for i in everything}
    parts = [f'leave out "{properties[i].words}", and there {_are(n)}' for i, n in left.items() if n]
    if not parts:
        return "To leave out any one of what was asked is not enough."
    said = "; ".join(parts)
    return f"{said[0].upper()}{said[1:]}."


def _are(n: int) -> str:
    return "is 1" if n == 1 else f"are {n:,}"


def _listed(properties: list[Property]) -> str:
    """Put properties one after the other."""
    words = [each.words for each in properties]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _values(values: list[int], names: Mapping[int, str] | None = None) -> str:
    """Say whole numbers: one, a stretch, or one by one; ``names`` has those that are said by a word.

    >>> _values([4]), _values([3, 4, 5]), _values([0, 2, 4]), _values([0, 8])
    ('4', '3 to 5', '0, 2 or 4', '0 or 8')
    """
    said = [(names or {}).get(value, str(value)) for value in values]
    if len(values) == 1:
        return said[0]
    even = values[-1] - values[0] == len(values) - 1 and len(values) > 2
    return f"{said[0]} to {said[-1]}" if even else f"{', '.join(said[:-1])} or {said[-1]}"
