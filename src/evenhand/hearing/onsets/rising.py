"""Find where each hit's sound is first seen to rise, and from there where it starts.

A sound starts where it crosses 1 % of its peak. Noise or an earlier hit's tail often
hides that; then the lowest share of the peak that can be seen is taken, and how long
sounds of this take need from one share to the next, where both are seen, leads back.

Conventions: ``sound`` shape (n_hits, length), highpassed; columns are samples; times
in seconds after the column ``zero``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, Singles, median

SHARES = (0.01, 0.02, 0.04, 0.08, 0.16, 0.32)  # of the peak
_ABOVE = 1.5  # a share is seen where it stands so far above all that was before
_PEAK_S = 0.020
_BACK_S, _ON_S = 0.0028, 0.0045
_QUIET_S = (0.0090, 0.0035)
_ENOUGH = 5


@dataclass(frozen=True, slots=True)
class Rise:
    """Where each share of the peak is crossed, shape (n_hits, n_shares), s; nan where hidden."""

    crossed_s: Floats

    def without(self, hits: Bools) -> Rise:
        """Return the same with nothing seen of some hits, shape (n_hits,)."""
        return Rise(np.where(hits[:, None], np.nan, self.crossed_s))


def find_rise(sound: Singles, zero: int, rate_hz: int, start_s: Floats, until_next_s: Floats) -> Rise:
    """Find the crossings of each share that can be seen.

    Parameters
    ----------
    sound : shape (n_hits, length), highpassed
    zero : the column that times count from
    start_s, until_next_s : shape (n_hits,), where each was fitted to start, and the time to the next, seconds
    """
    loud = np.abs(sound)
    begin = zero + np.round(start_s * rate_hz).astype(np.intp)
    span = np.minimum(until_next_s - 2e-3, _PEAK_S) * rate_hz
    after = _columns(loud, begin - int(1e-3 * rate_hz), int((_PEAK_S + 1e-3) * rate_hz))
    wide = np.arange(after.shape[1])[None, :] <= (span + 1e-3 * rate_hz)[:, None]
    peak = np.where(wide, after, 0).max(axis=1)
    quiet_length = int((_QUIET_S[0] - _QUIET_S[1]) * rate_hz)
    quiet = _columns(loud, begin - int(_QUIET_S[0] * rate_hz), quiet_length).max(axis=1)
    first = begin - int(_BACK_S * rate_hz)
    near = _columns(loud, first, int((_BACK_S + _ON_S) * rate_hz))
    crossed = np.full((len(loud), len(SHARES)), np.nan)
    row = np.arange(len(loud))
    for column, share in enumerate(SHARES):
        level = (share * peak)[:, None]
        over = near >= level
        at = over.argmax(axis=1)
        low, high = near[row, np.maximum(at - 1, 0)], near[row, at]
        part = np.clip((level[:, 0] - low) / np.maximum(high - low, 1e-12), 0, 1)
        seen = over.any(axis=1) & (at > 0) & (level[:, 0] > _ABOVE * quiet) & (peak > 0)
        crossed[seen, column] = ((first + at - 1 + part - zero) / rate_hz)[seen]
    return Rise(crossed)


def _columns(loud: Singles, first: Indices, length: int) -> Singles:
    """Return so many columns of each row from its own first column on, kept inside."""
    columns = np.clip(first[:, None] + np.arange(length), 0, loud.shape[1] - 1)
    return np.take_along_axis(loud, columns, axis=1)


def lag(rise: Rise, fitted_s: Floats) -> float:
    """Return how far from where hits were fitted to start they cross 1 % of their peak, by the median.

    Where no hit shows that, the lowest shares that are seen lead back to it.

    Parameters
    ----------
    fitted_s : shape (n_hits,), seconds after the windows' zero, as the crossings are
    """
    seen = ~np.isnan(rise.crossed_s)
    some = seen[:, 0] if seen[:, 0].any() else seen.any(axis=1)
    if not some.any():
        return 0.0
    lowest = seen[some].argmax(axis=1)
    own = rise.crossed_s[some, lowest] - delays(rise.crossed_s)[lowest]
    return median(own - fitted_s[some])


def delays(crossed_s: Floats) -> Floats:
    """Return how long after the lowest share each is crossed, from hits that show two neighbours.

    Parameters
    ----------
    crossed_s : shape (n_hits, n_shares), seconds; NaN where hidden

    Returns
    -------
    shape (n_shares,), seconds
    """
    delay = np.zeros(crossed_s.shape[1])
    for column in range(1, len(delay)):
        step = crossed_s[:, column] - crossed_s[:, column - 1]
        step = step[~np.isnan(step)]
        delay[column] = delay[column - 1] + (float(np.median(step)) if len(step) >= _ENOUGH else 0.0)
    return delay
