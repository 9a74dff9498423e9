"""Onset candidates of a take of any length, and what they say apart from their times.

Conventions: ``samples`` shape (n,), full scale 1.0; arrays shape (n,) over candidates, times in seconds from
the first sample, rising; levels in dB. A long take is walked in pieces that overlap, so that
memory does not grow with it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import ArrayTable, Bools, Floats, Indices, Singles
from evenhand.hearing.onsets.bands import (
    FRAME_HZ,
    SETTINGS,
    Novelty,
    band_energies,
    novelty,
    peak_frames,
    sharpened,
)
from evenhand.take import Progress, Samples

_RANGE_DB = 40.0  # what lies further below the loud hits is not a hit
_ECHO_S = 0.030
_GRACE_S = 0.090
_LATER = 0.5  # of how unlike it sounds counts in the later part, where only chance makes a hit so
_OFTEN = 0.04  # share of the later hits that must sound like it
_COLOUR_NEAR_DB = 2.5
_ROWS_AT_ONCE = 4000
_MOST_COMPARED = 250


@dataclass(frozen=True, slots=True)
class Candidates(ArrayTable):
    """Moments that may be hits.

    ``times_s`` (rough), ``strength``, ``level_db`` (rough),
    ``colour`` (n, n_bands): how the energy is spread over the bands, dB.
    """

    times_s: Floats
    strength: Floats
    level_db: Floats
    colour: Floats

    def moved(self, by_s: float) -> Candidates:
        """Return the same candidates so many seconds later."""
        return replace(self, times_s=self.times_s + by_s)


def gather(energies: Singles, heard: Novelty, picked: Indices) -> Candidates:
    """Put together what is known of each candidate frame.

    Parameters
    ----------
    energies : shape (n_bands, n_frames), mean square
    heard : the novelty of these
    picked : shape (n_candidates,), frames, rising
    """
    frames = sharpened(heard, picked)
    order = np.argsort(frames, kind="stable")
    frames, picked = frames[order], picked[order]
    fresh = _fresh_energy(energies, frames, after=20, before=3) + 1e-14
    colour = 10 * np.log10(fresh).T
    return Candidates(
        times_s=(frames + 1) / FRAME_HZ,
        strength=heard.strength[picked].astype(np.float64),
        level_db=10 * np.log10(fresh[1:].sum(axis=0)),
        colour=colour - colour.mean(axis=1, keepdims=True),
    )


def _fresh_energy(energies: Singles, frames: Indices, *, after: int, before: int) -> Floats:
    """Return the mean energy in the frames after each moment, less what was there before, by band."""
    columns = np.clip(frames[:, None] + np.arange(-before, after), 0, energies.shape[1] - 1)
    around = energies[:, columns].astype(np.float64)
    past, now = around[:, :, :before].mean(axis=2), around[:, :, before:].mean(axis=2)
    return np.asarray(np.maximum(now - 0.5 * past, 0.02 * now))


def within_reach(found: Candidates) -> Bools:
    """Tell which candidates are within reach of the loud ones, shape (n,)."""
    sure = found.level_db[found.strength > SETTINGS.strong]
    if len(sure) < 3:
        return np.ones(len(found), dtype=bool)
    return np.asarray(found.level_db > np.percentile(sure, 90) - _RANGE_DB)


def echoes(found: Candidates) -> Bools:
    """Tell which candidates, shape (n,), come right after a clearly louder one, as a drum's own body does."""
    t, level = found.times_s, found.level_db
    out = np.zeros(len(t), dtype=bool)
    for back in range(1, 4):
        near = (t[back:] - t[:-back] < _ECHO_S) & (found.strength[:-back] > found.strength[back:])
        out[back:] |= near & (level[:-back] > level[back:] - 6)
    return out


def before_another(found: Candidates) -> Bools:
    """Tell which candidates, shape (n,), stand where a grace note would: just ahead of another blow.

    The other is louder, or clear and about as loud (where a recorder rides its gain).
    """
    t, level = found.times_s, found.level_db
    out = np.zeros(len(t), dtype=bool)
    for on in range(1, 4):
        near = (t[on:] - t[:-on] < _GRACE_S) & (t[on:] - t[:-on] > 0.01)
        louder = level[on:] > level[:-on] + 5
        alike = (found.strength[on:] > SETTINGS.strong) & (level[on:] > level[:-on] - 3)
        out[:-on] |= near & (louder | alike)
    return out


def strangeness(found: Candidates) -> Floats:
    """Return how unlike the take's usual hits each candidate sounds, 0 (alike) to 1.

    Usual is what sounds again and again in the later part of the take: blows on one
    drum fall into a few colours by their strength, while counting in, clicks and speech
    come early, or never the same way twice.

    Returns
    -------
    shape (n_candidates,), 0 (usual) to 1 (quite unlike)
    """
    clear = found.strength > SETTINGS.strong
    if clear.sum() < 8:
        return np.zeros(len(found))
    times = found.times_s[clear]
    later = np.flatnonzero(clear & (found.times_s > times[0] + 0.4 * (times[-1] - times[0])))
    later = later[:: max(1, len(later) // _MOST_COMPARED)]
    if len(later) < 6:
        return np.zeros(len(found))
    weight = found.strength[later] / found.strength[later].sum()
    often = np.empty(len(found))
    for start in range(0, len(found), _ROWS_AT_ONCE):
        some = slice(start, start + _ROWS_AT_ONCE)
        apart = _square_apart(found.colour[some], found.colour[later])
        others = np.abs(found.times_s[some, None] - found.times_s[None, later]) > 0.03
        often[some] = (np.exp(-apart / _COLOUR_NEAR_DB**2) * others) @ weight
    soft = np.percentile(found.level_db[later], 10) - found.level_db
    strange = np.maximum(np.clip(1 - often / _OFTEN, 0, 1), np.clip((soft - 8) / 8, 0, 1))
    return np.where(found.times_s < found.times_s[later[0]], strange, _LATER * strange)


def _square_apart(one: Floats, other: Floats) -> Floats:
    """Return the mean square difference of every row of one from every row of the other."""
    both = (one**2).sum(axis=1)[:, None] + (other**2).sum(axis=1)[None, :] - 2 * one @ other.T
    return np.asarray(np.maximum(both, 0) / one.shape[1])


_PIECE_S, _LAP_S = 120, 1


def find_onsets(
    samples: Samples, rate_hz: int, progress: Progress | None = None
) -> tuple[Novelty, Candidates]:
    """Find the moments at which something begins to sound.

    Parameters
    ----------
    samples : shape (n,), mono, full scale 1.0
    progress : told the share done, 0 to 1

    Returns
    -------
    how much every half millisecond stands out, and the candidates, rising in time
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


def _piece(samples: Singles, rate_hz: int) -> tuple[Novelty, Candidates]:
    """Find the moments of one piece."""
    energies = band_energies(samples, rate_hz)
    heard = novelty(energies)
    return heard, gather(energies, heard, peak_frames(heard))
