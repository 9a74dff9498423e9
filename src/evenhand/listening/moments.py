"""Find the moments at which something begins to sound, over a take of any length.

Conventions: ``samples`` shape (n,), full scale 1.0; times in seconds from the first
sample. A long take is walked in pieces that overlap, so that memory does not grow
with it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.bands import FRAME_HZ, band_energies
from evenhand.listening.click_types import HeardClick
from evenhand.listening.cutting import Samples, rows
from evenhand.listening.evidence import Candidates, gather, within_reach
from evenhand.listening.novelty import Novelty, candidates, novelty

Progress = Callable[[float], None]

_PIECE_S, _LAP_S = 120, 1
_CLICK_BEFORE_S, _CLICK_LASTS_S = 0.012, 0.06
_AT_ONCE = 1000  # candidates compared at once: bounds memory
_LONE_S = 0.015
_LEAST_REST = 0.02
_CLICK_BODY_S, _CLICK_TAIL_DB = 0.010, 8.0  # what comes after, so far below, is its own tail
_TAIL_STRENGTH = 6.5  # less new than this, it is a room's answer to the click
_TAIL_REST = 0.6  # of the energy: what taking the click out leaves of its own tail
_CLICK_REST = 0.15  # of the energy: less left than this is no stroke


def moments(samples: Samples, rate_hz: int, progress: Progress | None = None) -> tuple[Novelty, Candidates]:
    """Find the moments at which something begins to sound.

    Returns how much every half millisecond stands out, and the candidates, rising in time.
    """
    total_s = len(samples) / rate_hz
    if total_s <= 1.5 * _PIECE_S:
        heard, found = _piece(samples[0 : len(samples)], rate_hz)
        if progress is not None:
            progress(1.0)
        return heard, found.only(within_reach(found))
    strengths, sharps, all_found = [], [], []
    for start_s in range(0, int(np.ceil(total_s)), _PIECE_S):
        first_s = max(0, start_s - _LAP_S)
        piece = samples[first_s * rate_hz : (start_s + _PIECE_S + _LAP_S) * rate_hz]
        heard, found = _piece(piece, rate_hz)
        skip = (start_s - first_s) * FRAME_HZ
        strengths.append(heard.strength[skip : skip + _PIECE_S * FRAME_HZ])
        sharps.append(heard.sharp[skip : skip + _PIECE_S * FRAME_HZ])
        times = found.times_s + first_s
        all_found.append(found.moved(first_s).only((times >= start_s) & (times < start_s + _PIECE_S)))
        if progress is not None:
            progress(min(1.0, (start_s + _PIECE_S) / total_s))
    found = Candidates.joined(all_found)
    return Novelty(np.concatenate(strengths), np.concatenate(sharps)), found.only(within_reach(found))


def _piece(samples: NDArray[np.float32], rate_hz: int) -> tuple[Novelty, Candidates]:
    """Find the moments of one piece."""
    energies = band_energies(samples, rate_hz)
    heard = novelty(energies)
    return heard, gather(energies, heard, candidates(heard))


def only_click(
    samples: Samples, cleaned: Samples, rate_hz: int, found: Candidates, click: HeardClick
) -> NDArray[np.bool_]:
    """Tell which candidates are but the rest of a click: taking it out took most of them away.

    A click's own tail comes after it, far softer and not clearly new; a stroke that comes late is new.
    """
    at = np.searchsorted(click.times_s, found.times_s)
    since = found.times_s - click.times_s[np.maximum(at - 1, 0)]
    until = click.times_s[np.minimum(at, len(click.times_s) - 1)] - found.times_s
    near = np.flatnonzero(
        ((since >= 0) & (since < _CLICK_LASTS_S)) | ((until >= 0) & (until < _CLICK_BEFORE_S))
    )
    tail = (since > _CLICK_BODY_S) & (since < _CLICK_LASTS_S)
    rest = _rest(samples, cleaned, rate_hz, click)
    tail &= found.level_db < click.level_db - _CLICK_TAIL_DB
    out = tail & (found.strength < _TAIL_STRENGTH)
    for part in np.array_split(near, -(-len(near) // _AT_ONCE) or 1):
        first = np.round((found.times_s[part] - 0.002) * rate_hz).astype(np.intp)
        was, left = _variances(samples, first, rate_hz), _variances(cleaned, first, rate_hz)
        out[part] |= left < np.where(tail[part], _TAIL_REST, rest) * was
    return out


def without_lone_clicks(
    samples: Samples, cleaned: Samples, rate_hz: int, heard: Novelty, click: HeardClick
) -> Novelty:
    """Return the novelty with silence where a click sounded alone, so that its rest is no faint hit."""
    strength, sharp = heard.strength.copy(), heard.sharp.copy()
    rest = _rest(samples, cleaned, rate_hz, click)
    for part in np.array_split(click.times_s, -(-len(click.times_s) // _AT_ONCE) or 1):
        first = np.round((part - 0.002) * rate_hz).astype(np.intp)
        was, left = _variances(samples, first, rate_hz), _variances(cleaned, first, rate_hz)
        for time in part[left < rest * was].tolist():
            around = slice(max(0, int((time - _LONE_S) * FRAME_HZ)), int((time + _LONE_S) * FRAME_HZ))
            strength[around] = sharp[around] = 0.0
    return Novelty(strength, sharp)


def _rest(samples: Samples, cleaned: Samples, rate_hz: int, click: HeardClick) -> float:
    """Return the share of the energy that taking the click out leaves where nothing else sounds.

    Read from the third of the clicks that leave least; four times that is no stroke yet.
    """
    first = np.round((click.times_s[:_AT_ONCE] - 0.002) * rate_hz).astype(np.intp)
    was, left = _variances(samples, first, rate_hz), _variances(cleaned, first, rate_hz)
    least = np.sort(left / np.maximum(was, 1e-12))[: max(1, len(first) // 3)]
    return float(np.clip(4 * least[len(least) // 2], _LEAST_REST, _CLICK_REST))


def _variances(samples: Samples, first: NDArray[np.intp], rate_hz: int) -> NDArray[np.float64]:
    """Return the mean square of 12 ms from each first sample on, less its mean."""
    return np.asarray(rows(samples, first, int(0.012 * rate_hz)).astype(np.float64).var(axis=1))
