"""Say why a hit has no note: what is heard is a note's, or is told with its reason.

Conventions: times in seconds, rising; levels in dB re full scale.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.heard import ExtraHit, ExtraReason
from evenhand.domain.remarks import Remark
from evenhand.listening.places import away_s

Array = NDArray[np.float64]

MANY = 2  # more than these are said in a warning
_SAME_S = 0.012  # a blow counted in, before and after its time is refined


def reasons(times_s: Array, first_s: float, last_s: float, counted_s: Array) -> list[ExtraReason]:
    """Return why each hit has no note, by when it comes: ``first_s`` and ``last_s`` are the notes' ends."""
    counted = away_s(times_s, counted_s) < _SAME_S if len(counted_s) else np.zeros(len(times_s), dtype=bool)
    out: list[ExtraReason] = []
    for at, counts in zip(times_s.tolist(), counted.tolist(), strict=True):
        if counts:
            out.append("count-in")
        elif at < first_s:
            out.append("before the start")
        else:
            out.append("after" if at > last_s else "between")
    return out


def in_order(hits: Iterable[ExtraHit]) -> tuple[ExtraHit, ...]:
    """Return extra hits in order of time."""
    return tuple(sorted(hits, key=lambda hit: hit.time_s))


def besides_warning(extra: Sequence[ExtraHit]) -> tuple[Remark, ...]:
    """Return a warning where more than two hits were given no note."""
    if len(extra) <= MANY:
        return ()
    counts: Counter[str] = Counter(hit.reason for hit in extra)
    return (Remark("hits without a note", {"n": len(extra), **counts}),)
