"""Short covering sets: the fewest exercises that hold what a long list holds.

Conventions: what an exercise holds is a set of hand changes (``hand_changes``); an exercise is its place in
the list. Put the easier first: of exercises that do the same, the first in the list is chosen. The choice is
an integer program, solved by HiGHS, and comes with a bound: no smaller choice than it can do.

Sets of hand changes, and what can be taken out of a choice among them before it is solved.

Conventions: what an exercise holds is a set of hand changes (``hand_changes``); an exercise is its place in
the list. Of exercises that hold the same, the first in the list stands for all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite

import numpy as np
from numpy.typing import NDArray

from evenhand.integer_program import Constraint, Program, solve

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
        holders = _reducing_holders(open_)
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


def _reducing_holders(open_: dict[int, Held]) -> dict[str, list[int]]:
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


TIME_LIMIT_S = 20.0
ROUNDING = 1e-6  # what the solver's bound may lie beside a whole number


@dataclass(frozen=True, slots=True)
class Cover:
    """The exercises chosen, as places in the list, rising; no choice of fewer than ``bound`` would do."""

    chosen: tuple[int, ...]
    bound: int

    @property
    def optimal(self) -> bool:
        """Tell whether it is proven that no fewer do."""
        return len(self.chosen) == self.bound


@dataclass(frozen=True, slots=True)
class Best:
    """The best choice of so many: what it holds, and what no choice of so many can exceed."""

    chosen: tuple[int, ...]
    held: int
    bound: int

    @property
    def optimal(self) -> bool:
        """Tell whether it is proven that none of so many holds more."""
        return self.held == self.bound


def cover(holds: Sequence[Held], time_limit_s: float = TIME_LIMIT_S) -> Cover:
    """Choose the fewest that hold together all that the whole list holds.

    >>> cover([frozenset("ab"), frozenset("bc"), frozenset("cd"), frozenset("ac")]).chosen
    (0, 2)
    """
    left = reduced(holds)
    places = list(left.open)
    sets = [left.open[place] for place in places]
    quick = greedy(sets)
    bound = _simple_bound(sets)
    chosen = quick
    if bound < len(quick):
        solved, bound = _solve_cover(sets, time_limit_s)
        chosen = solved if solved is not None and len(solved) < len(quick) else quick
    found = [*left.sure, *(places[i] for i in chosen)]
    return Cover(tuple(sorted(_easier(found, holds))), min(len(left.sure) + bound, len(found)))


def greedy(holds: Sequence[Held]) -> list[int]:
    """Choose again and again the one that adds most, the first of equals, until all is held.

    It takes at most H(s) times the fewest, s the largest set, H(s) = 1 + 1/2 + ... + 1/s <= 1 + ln s
    (Johnson 1974, Lovász 1975, Chvátal 1979).
    """
    missing, chosen = union(holds), list[int]()
    while missing:
        best = max(range(len(holds)), key=lambda i: (len(holds[i] & missing), -i))
        chosen.append(best)
        missing -= holds[best]
    return chosen


def best_of(holds: Sequence[Held], n: int, time_limit_s: float = TIME_LIMIT_S) -> Best:
    """Choose the n that hold most together."""
    quick = greedy(holds)[:n]
    everything, most_of_one = len(union(holds)), max((len(held) for held in holds), default=0)
    held = _held(quick, holds)
    bound = min(everything, n * most_of_one)
    if held < bound:
        places = list(undominated(dict(enumerate(holds))))
        solved, bound = _solve_best([holds[i] for i in places], n, time_limit_s)
        better = [places[i] for i in solved] if solved is not None else []
        if _held(better, holds) > held:
            quick, held = better, _held(better, holds)
    return Best(tuple(sorted(quick)), held, max(held, min(bound, everything)))


def shares(order: Iterable[int], holds: Sequence[Held]) -> list[float]:
    """Return which share of all is held after each exercise of an order."""
    everything, held, found = union(holds), set[str](), list[float]()
    for place in order:
        held |= holds[place]
        found.append(len(held) / len(everything) if everything else 1.0)
    return found


def _held(chosen: Iterable[int], holds: Sequence[Held]) -> int:
    return len(union(holds[i] for i in chosen))


def _simple_bound(sets: Sequence[Held]) -> int:
    """Return how many it takes at least, even if no two of them overlapped."""
    return -(-len(union(sets)) // max((len(held) for held in sets), default=1))


def _easier(chosen: list[int], holds: Sequence[Held]) -> list[int]:
    """Exchange each, the hardest first, for the first of the list that does its part as well."""
    found = sorted(chosen)
    for place in sorted(chosen, reverse=True):
        others = [each for each in found if each != place]
        part = union(holds) - union(holds[each] for each in others)
        instead = next((i for i in range(place) if i not in found and part <= holds[i]), place)
        found = [*others, instead]
    return found


def _solve_cover(sets: Sequence[Held], time_limit_s: float) -> tuple[list[int] | None, int]:
    """Solve for the fewest sets that hold all; also how many it takes at least."""
    rows = [Constraint(columns, np.ones(columns.size), low=1.0) for columns in _holders(sets)]
    program = Program(cost=np.ones(len(sets)), whole=np.ones(len(sets), dtype=np.bool_), rows=rows)
    solved = solve(program, time_limit_s=time_limit_s)
    least = max(_simple_bound(sets), ceil(solved.bound - ROUNDING) if isfinite(solved.bound) else 0)
    return _chosen(solved.values), least


def _solve_best(sets: Sequence[Held], n: int, time_limit_s: float) -> tuple[list[int] | None, int]:
    """Solve for the n sets that hold most; also what n can hold at most.

    A member is held (a number from 0 to 1) as far as sets that hold it are chosen.
    """
    m, holders = len(sets), _holders(sets)
    held = [
        Constraint(np.append(columns, np.int32(m + k)), np.append(np.ones(columns.size), -1.0), low=0.0)
        for k, columns in enumerate(holders)
    ]
    at_most_n = Constraint(np.arange(m, dtype=np.int32), np.ones(m), high=float(n))
    program = Program(
        cost=np.append(np.zeros(m), -np.ones(len(holders))),
        whole=np.arange(m + len(holders)) < m,
        rows=[*held, at_most_n],
    )
    solved = solve(program, time_limit_s=time_limit_s)
    most = floor(-solved.bound + ROUNDING) if isfinite(solved.bound) else len(holders)
    return _chosen(None if solved.values is None else solved.values[:m]), most


def _chosen(values: NDArray[np.float64] | None) -> list[int] | None:
    return None if values is None else np.flatnonzero(values > 0.5).tolist()


def _holders(sets: Sequence[Held]) -> list[NDArray[np.int32]]:
    """Return for each member, in their order, the places of the sets that hold it."""
    places: dict[str, list[int]] = {member: [] for member in sorted(union(sets))}
    for place, held in enumerate(sets):
        for member in held:
            places[member].append(place)
    return [np.array(found, dtype=np.int32) for found in places.values()]
