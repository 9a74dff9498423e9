"""How long a batch still takes, as a range: from when each of what is done was done.

Conventions: moments in seconds of any clock, rising; a weight is what the work grows with, such as a take's
seconds, or 1 for each where that is not known. The range is meant to hold in 90 of 100 cases so long as the
machine goes on as it went; where it gets other work to do, no range made beforehand can know.

The work done is cut into blocks of like weight. How much their rates differ says how sure the whole is, with
Student's t for so few blocks (the quantile by Abramowitz & Stegun 1964, 26.7.5; the standard error of a ratio
of sums, as Cochran 1977, 6.4). It is made of all blocks and of the newer half, and spans both, so that a
machine that became slower is seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

from evenhand.report.words.figures import duration

FEWEST_BLOCKS, MOST_BLOCKS, WIDE = 6, 20, 4
LEAST_SHARE = 0.15  # of the whole, to either side: who says it closer says more than is known
NEXT_TO_NONE = 0.05  # of the most: a least that says nothing
_Z = NormalDist().inv_cdf(0.95)

Done = tuple[float, float]  # when something was done, s; its weight


def seconds_left(done: Sequence[Done], left: float) -> tuple[float, float] | None:
    """Say between how many seconds the rest takes.

    Parameters
    ----------
    done
        What is done, in the order in which it was; the first only says when counting begins.
    left
        The weight of the rest.

    Returns
    -------
    None while too little is done to say.
    """
    blocks = _blocks(done)
    if left <= 0:
        return 0.0, 0.0
    if len(blocks) < FEWEST_BLOCKS:
        return None
    newer = blocks[len(blocks) // 2 :]
    ranges = [_range(each, left) for each in (blocks, newer, _wide(blocks)) if len(each) > 2]
    return min(low for low, _ in ranges), max(high for _, high in ranges)


def _blocks(done: Sequence[Done]) -> list[Done]:
    """Cut what is done into blocks of like weight: how long each took, s, and its weight."""
    total = sum(weight for _, weight in done[1:])
    if len(done) < 2 or total <= 0:
        return []
    many = min(MOST_BLOCKS, len(done) - 1)
    blocks, since, weight = list[Done](), done[0][0], 0.0
    for at, more in done[1:]:
        weight += more
        if weight >= total / many * (1 - 1e-9):
            blocks.append((at - since, weight))
            since, weight = at, 0.0
    return blocks


def _wide(blocks: Sequence[Done]) -> list[Done]:
    """Join blocks by fours: what wanders slowly shows between long ones only."""
    fours = [blocks[start : start + WIDE] for start in range(0, len(blocks) - WIDE + 1, WIDE)]
    return [(sum(took for took, _ in four), sum(weight for _, weight in four)) for four in fours]


def _range(blocks: Sequence[Done], left: float) -> tuple[float, float]:
    """Predict how long the rest takes, by the rates of some blocks."""
    took, done = (sum(each) for each in zip(*blocks, strict=True))
    rate, degrees = took / done, len(blocks) - 1
    spread = sum((seconds - rate * weight) ** 2 / weight for seconds, weight in blocks) / degrees
    error = student_t(degrees) * math.sqrt(spread * left * (1 + left / done))
    error = max(error, LEAST_SHARE * rate * left)
    return max(0.0, rate * left - error), rate * left + error


def student_t(degrees: int) -> float:
    """Return the 95 % quantile of Student's t.

    >>> [round(student_t(n), 2) for n in (4, 10, 19)]  # 2.13, 1.81, 1.73 in the tables
    [2.13, 1.81, 1.73]
    """
    third, fifth = (_Z**3 + _Z) / 4, (5 * _Z**5 + 16 * _Z**3 + 3 * _Z) / 96
    seventh = (3 * _Z**7 + 19 * _Z**5 + 17 * _Z**3 - 15 * _Z) / 384
    return _Z + third / degrees + fifth / degrees**2 + seventh / degrees**3


def left_words(found: tuple[float, float] | None) -> str:
    """Say it for people, no closer than it is known.

    >>> left_words((1300.0, 1900.0)), left_words((20.0, 50.0)), left_words((0.0, 300.0))
    ('22 min to 32 min left', '20 s to 50 s left', 'up to 5 min left')
    """
    if found is None:
        return "how long is not known yet"
    low, high = (duration(seconds, "minutes" if seconds >= 60 else "seconds") for seconds in found)
    if low == high:
        return f"{low} left"
    return f"{low} to {high} left" if found[0] > NEXT_TO_NONE * found[1] else f"up to {high} left"
