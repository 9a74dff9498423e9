"""Fill so many seconds with turns of exercises, exactly.

Conventions: a turn is one exercise in one go, ``seconds`` long, with a rest after it that may
be from ``SHORTEST_REST_S`` to ``LONGEST_REST_S``. What to choose is a whole-number program, solved by HiGHS:
how many turns of each, so that turns and rests can add up to the seconds given, and the value of what is
practised is greatest. A second turn of the same exercise is worth less than its first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.integer_program import Program, Row, solve

SHORTEST_REST_S, LONGEST_REST_S = 8, 40
WORTH_AGAIN = (1.0, 0.45, 0.25, 0.12)  # of a first turn, a second ...
FADES = 0.8  # of a further one against the one before, where a day is so long that it takes more
COVER_WORTH = 2.0  # of a hand change that the week has not had yet
GAP, TIME_LIMIT_S = 0.05, 2.0


@dataclass(frozen=True, slots=True)
class Turn:
    """An exercise in one go: how long that takes, and what it is worth."""

    seconds: int
    worth: float
    changes: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Filled:
    """How many of each turn, and the rest after each turn in the order they will be played."""

    counts: tuple[int, ...]
    rests_s: tuple[int, ...]
    spare_s: int  # seconds that could not be filled: 0 unless no turns fit


def fill(
    turns: Sequence[Turn],
    seconds: int,
    wanted_changes: frozenset[str] = frozenset(),
) -> Filled:
    """Choose turns whose seconds and rests add up to the seconds given.

    Parameters
    ----------
    turns
        What can be chosen.
    seconds
        What the turns and their rests, the last one's too, must add up to.
    wanted_changes
        Hand changes that are worth more, for the week lacks them.
    """
    again = worth_again(turns, seconds)
    counts = _chosen(turns, seconds, wanted_changes, again)
    if counts is None:
        counts = _as_near_as_can_be(turns, seconds, len(again))
    return _with_rests(turns, counts, seconds)


def worth_again(turns: Sequence[Turn], seconds: int) -> tuple[float, ...]:
    """Return what a first, a second ... turn is worth: as many as the seconds may need."""
    once_s = sum(turn.seconds + SHORTEST_REST_S for turn in turns)
    more = max(0, seconds // max(once_s, 1) + 1 - len(WORTH_AGAIN))
    return (*WORTH_AGAIN, *(WORTH_AGAIN[-1] * FADES ** (k + 1) for k in range(more)))


def _chosen(
    turns: Sequence[Turn], seconds: int, wanted: frozenset[str], worths: tuple[float, ...]
) -> tuple[int, ...] | None:
    """Solve the program; None where no turns add up.

    The unknowns are, for each turn, whether it is taken a first time, a second ...; then, for each wanted
    hand change, whether it is had.
    """
    again = len(worths)
    n, changes = len(turns), sorted(wanted & frozenset().union(*(turn.changes for turn in turns)))
    worth = np.concatenate(
        [
            (np.array([turn.worth for turn in turns])[:, None] * np.array(worths)).ravel(),
            np.full(len(changes), COVER_WORTH),
        ]
    )
    program = Program(
        cost=-worth,
        whole=np.arange(worth.size) < n * again,
        rows=_limits(turns, seconds, changes, again),
    )
    values = solve(program, time_limit_s=TIME_LIMIT_S, gap=GAP).values
    if values is None:
        return None
    taken = np.rint(values[: n * again]).reshape(n, again).sum(axis=1)
    return tuple(int(count) for count in taken)


def _limits(turns: Sequence[Turn], seconds: int, changes: Sequence[str], again: int) -> list[Row]:
    """Write the program's rows: the seconds that must be filled, and what hand changes are had.

    That a first turn comes before a second needs no row: it is worth more.
    """
    n = len(turns)
    lengths = np.repeat([float(turn.seconds) for turn in turns], again)
    taken = np.arange(n * again, dtype=np.int32)
    rows = [
        Row(taken, lengths + SHORTEST_REST_S, high=float(seconds)),
        Row(taken, lengths + LONGEST_REST_S, low=float(seconds)),
    ]
    for j, change in enumerate(changes):
        first = [i * again for i, turn in enumerate(turns) if change in turn.changes]
        columns = np.array([*first, n * again + j], dtype=np.int32)
        rows.append(Row(columns, np.append(np.ones(len(first)), -1.0), low=0.0))
    return rows


def _as_near_as_can_be(turns: Sequence[Turn], seconds: int, most: int) -> tuple[int, ...]:
    """Take turns one after the other while they fit: for seconds that no turns add up to."""
    counts = [0] * len(turns)
    left, taken = seconds, True
    while taken:
        taken = False
        for i in sorted(range(len(turns)), key=lambda i: -turns[i].worth):
            if turns[i].seconds + SHORTEST_REST_S <= left and counts[i] < most:
                counts[i] += 1
                left -= turns[i].seconds + SHORTEST_REST_S
                taken = True
    return tuple(counts)


def _with_rests(turns: Sequence[Turn], counts: tuple[int, ...], seconds: int) -> Filled:
    """Share out what the turns leave as rests, as alike as whole seconds allow."""
    n = sum(counts)
    if n == 0:
        return Filled(counts, (), seconds)
    played = sum(turn.seconds * count for turn, count in zip(turns, counts, strict=True))
    left = min(seconds - played, n * LONGEST_REST_S)
    each, over = divmod(max(left, 0), n)
    rests = tuple(each + (i < over) for i in range(n))
    return Filled(counts, rests, seconds - played - sum(rests))
