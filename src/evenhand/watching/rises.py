"""What raised a stick after a hit: the rebound or the hand. An experimental answer.

Three figures of the rise are weighed together: how much of its height a stick has at half its time, how much of
the energy for that height it left with, and how high it is 30 ms after the hit over what a free rise has then.
Never one alone: a stick that leaves fast, stops low and is lifted from there has one of them right. The weights
were fitted to simulated sticks (``benchmarks/filming``); on real players the answer is not proven.

Conventions: the index is 0 for free to 1 for lifted; figures as in ``LiftParts``.
"""

from __future__ import annotations

import math
from typing import Literal

from evenhand.watching.values import LiftParts, RiseKind

# log odds of a lift, in the figures less their values for a free rise; each is counted as far as it goes
AT_FREE = (0.66, 0.90, 0.95)
WEIGHTS = (22.0, 5.0, 4.0)
BIAS = -2.5
MOST_SHORT, MOST_OVER = 1.0, 0.15
FREE_BELOW, LIFTED_FROM = 0.2, 0.8

Judged = Literal["free", "unsure", "lifted"]


def lift_index(parts: LiftParts) -> float | None:
    """Return the index of a rise; None where a part is missing.

    >>> round(lift_index(LiftParts(0.66, 1.0, 1.0)), 2), round(lift_index(LiftParts(0.45, 0.2, 0.3)), 2)
    (0.05, 1.0)
    """
    figures = (parts.half_rise, parts.energy_ratio, parts.at_30_ms)
    if any(figure is None for figure in figures):
        return None
    odds = BIAS
    for figure, free, weight in zip(figures, AT_FREE, WEIGHTS, strict=True):
        odds += weight * min(max(free - (figure or 0.0), -MOST_OVER), MOST_SHORT)
    return 1 / (1 + math.exp(-odds))


def rise_kind(index: float | None) -> RiseKind | None:
    """Say what raised a stick; between the two it is not sure."""
    if index is None:
        return None
    if index < FREE_BELOW:
        return "free"
    return "lifted" if index >= LIFTED_FROM else "unsure"
