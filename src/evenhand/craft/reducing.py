"""Sets of hand changes, and what can be taken out of a choice among them before it is solved.

Conventions: what an exercise holds is a set of hand changes (``hand_changes``); an exercise is its place in
the list. Of exercises that hold the same, the first in the list stands for all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Held = frozenset[str]

MOST_COMPARED = 4000  # sets compared with each other; of longer lists the solver takes all


@dataclass(frozen=True, slots=True)
class Left:
    """What is left to choose: ``sure`` are chosen already, ``open`` may be, to hold the ``missing``."""

    sure: tuple[int, ...]
    open: dict[int, Held]
    missing: Held


def union(holds: Iterable[Held]) -> Held:
    """Join sets to one."""
    return frozenset().union(*holds)


def reduced(holds: Sequence[Held]) -> Left:
    """Take out what needs no choice, until nothing changes.

    An exercise is sure where only it holds some hand change; it is out where another holds all that it could
    add; a hand change is out where another's holders all hold it, too.
    """
    sure: list[int] = []
    open_, missing = dict(enumerate(holds)), union(holds)
    while True:
        open_ = undominated({place: held & missing for place, held in open_.items()})
        holders = _holders(open_)
        only = {places[0] for places in holders.values() if len(places) == 1}
        if only:
            sure += sorted(only)
            missing -= _joined(open_, only)
            continue
        needed = _undominating(holders)
        if needed == missing:
            return Left(tuple(sure), open_, missing)
        missing = needed


def _joined(open_: dict[int, Held], places: Iterable[int]) -> Held:
    return union(open_[place] for place in places)


def _holders(open_: dict[int, Held]) -> dict[str, list[int]]:
    """Return who holds each."""
    holders: dict[str, list[int]] = {}
    for place, held in open_.items():
        for each in held:
            holders.setdefault(each, []).append(place)
    return holders


def undominated(open_: dict[int, Held]) -> dict[int, Held]:
    """Leave out those that hold no more than another; of equals the first stays."""
    first: dict[Held, int] = {}
    for place, held in open_.items():
        if held:
            first.setdefault(held, place)
    kept: list[Held] = []
    for held in sorted(first, key=len, reverse=True):
        if len(first) > MOST_COMPARED or not any(held <= other for other in kept):
            kept.append(held)
    return dict(sorted((first[held], held) for held in kept))


def _undominating(holders: dict[str, list[int]]) -> Held:
    """Leave out hand changes that come for free with another; of equals the first in order stays."""
    if len(holders) > MOST_COMPARED:
        return frozenset(holders)
    kept: list[tuple[str, frozenset[int]]] = []
    for each, places in sorted(holders.items(), key=lambda item: (len(item[1]), item[0])):
        those = frozenset(places)
        if not any(other <= those for _, other in kept):
            kept.append((each, those))
    return frozenset(each for each, _ in kept)
