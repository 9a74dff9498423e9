"""What an ear can tell, and on which side of that a figure lies.

Conventions: intervals and displacements in ms, levels in dB, tempo differences as a share; an ``edge`` is the
size from which a figure is heard, in the figure's unit.

Sources: one displaced note in an even series, Friberg & Sundberg 1995 (J. Acoust. Soc. Am. 98:2524-2531);
tempo, Drake & Botte 1993 (Percept. Psychophys. 54:277-286); level, about 1 dB for short sounds
(common practice).
"""

from __future__ import annotations

import math
from typing import Literal

from evenhand.domain.measures import Measure

SMALLEST_AUDIBLE_MS = 6.0
AUDIBLE_SHARE_OF_INTERVAL = 0.025
AUDIBLE_LEVEL_DB = 1.0
AUDIBLE_TEMPO_SHARES = ((1, 0.06), (2, 0.04), (4, 0.032), (6, 0.03))

Side = Literal["over", "under", "open"]


def audible_ms(interval_ms: float | None) -> float:
    """Return the smallest displacement that is heard among notes this far apart.

    Where that is not known, it is what holds for close notes.

    >>> audible_ms(100.0), audible_ms(500.0), audible_ms(None)
    (6.0, 12.5, 6.0)
    """
    return max(SMALLEST_AUDIBLE_MS, AUDIBLE_SHARE_OF_INTERVAL * (interval_ms or 0.0))


def audible_tempo_share(n_intervals: int) -> float:
    """Return the smallest change of tempo that is heard over so many intervals, as a share.

    Between the published counts the next smaller one holds.

    >>> audible_tempo_share(4)
    0.032
    """
    return [share for count, share in AUDIBLE_TEMPO_SHARES if count <= max(n_intervals, 1)][-1]


def either_way(figure: Measure, edge: float, centre: float = 0.0) -> Side:
    """Judge a figure that may lie too far off to either side of ``centre``.

    Only the whole interval decides.

    >>> either_way(Measure(8.0, 40, "ms", (6.5, 9.5)), 6.0)
    'over'
    >>> either_way(Measure(-1.0, 40, "ms", (-3.0, 1.0)), 6.0)
    'under'
    """
    if figure.value is None or figure.ci95 is None:
        return "open"
    low, high = figure.ci95[0] - centre, figure.ci95[1] - centre
    if low > edge or high < -edge:
        return "over"
    return "under" if -edge <= low and high <= edge else "open"


def one_way(figure: Measure, edge: float) -> Side:
    """Judge a figure that can only be too large: over a positive edge, or below a negative one."""
    if figure.value is None or figure.ci95 is None:
        return "open"
    low, high = sorted(end * math.copysign(1.0, edge) for end in figure.ci95)
    if low > abs(edge):
        return "over"
    return "under" if high <= abs(edge) else "open"
