"""What an ear can tell.

Conventions: intervals and displacements in ms, levels in dB, tempo differences as a share.

Sources: one displaced note in an even series, Friberg & Sundberg 1995 (J. Acoust. Soc. Am. 98:2524-2531);
tempo, Drake & Botte 1993 (Percept. Psychophys. 54:277-286); level, about 1 dB for short sounds.
"""

from __future__ import annotations

SMALLEST_AUDIBLE_MS = 6.0
AUDIBLE_SHARE_OF_INTERVAL = 0.025
AUDIBLE_DB = 1.0
AUDIBLE_TEMPO_SHARES = ((1, 0.06), (2, 0.04), (4, 0.032), (6, 0.03))


def audible_ms(interval_ms: float) -> float:
    """Return the smallest displacement that is heard among notes this far apart.

    >>> audible_ms(100.0), audible_ms(500.0)
    (6.0, 12.5)
    """
    return max(SMALLEST_AUDIBLE_MS, AUDIBLE_SHARE_OF_INTERVAL * interval_ms)


def audible_tempo_share(n_intervals: int) -> float:
    """Return the smallest change of tempo that is heard over so many intervals, as a share.

    Between the published counts the next smaller one holds.

    >>> audible_tempo_share(4)
    0.032
    """
    return [share for count, share in AUDIBLE_TEMPO_SHARES if count <= max(n_intervals, 1)][-1]
