"""Onset candidates of a take of any length, and what they say apart from their times.

Conventions: ``samples`` shape (n,), full scale 1.0; arrays shape (n,) over candidates, times in seconds from
the first sample, rising; levels in dB; costs in nats. A long take is walked in pieces that overlap, so that
memory does not grow with it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import ArrayTable, Bools, Floats, Indices, Singles
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.click import HeardClick
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
_BOUNCE_S, _BOUNCE_RISE_DB = 0.045, 3.0
_FAINTLY = 2.2
_NO_GRACE = 1.0  # nats, for a flam or drag with nothing ahead of it
_JUST_BEFORE = 4.0  # nats
_ONE_BLOW_S = 0.014  # candidates nearer than this may be one blow
_LATER = 0.5  # of how unlike it sounds counts in the later part, where only chance makes a hit so
_OFTEN = 0.04  # share of the later hits that must sound like it
_COLOUR_NEAR_DB = 2.5
_ROWS_AT_ONCE = 4000
_MOST_COMPARED = 250
_STRANGE = 4.0  # nats, for taking a sound quite unlike the usual hits for a note
_OFF_BEAT = 0.6  # nats a note, at most, for standing off the click


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


def bounces(found: Candidates, score: Score) -> Bools:
    """Tell which, shape (n,), are the stick bouncing on in a buzz: close behind a blow, and no louder."""
    out = np.zeros(len(found), dtype=bool)
    if not score.buzzes.any() or score.shortest * score.tempo.whole_note_s < 2 * _BOUNCE_S:
        return out
    t, level = found.times_s, found.level_db
    clear = found.strength > SETTINGS.clear
    for back in range(1, 3):
        apart = t[back:] - t[:-back]
        near = (apart < _BOUNCE_S) & (apart > _ONE_BLOW_S) & clear[:-back]
        out[back:] |= near & (level[back:] - level[:-back] < _BOUNCE_RISE_DB)
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


def extra_costs(found: Candidates, score: Score, strange: Floats) -> Floats:
    """Return what it costs to leave each candidate out as no note of the exercise.

    Parameters
    ----------
    strange : shape (n_candidates,), as from ``strangeness``

    Returns
    -------
    shape (n_candidates,), nats
    """
    cost = np.clip((found.strength - 2.0) * 1.6, 0.05, 6.0)
    cost = np.where(echoes(found), np.minimum(cost, 0.8), cost)
    cost = cost * (1 - 0.85 * strange)
    cost = np.where(bounces(found, score), np.minimum(cost, 0.15), cost)
    if score.graces.any():
        cost = np.where(before_another(found), np.minimum(cost, 0.3), cost)
    return cost


def match_costs(found: Candidates, score: Score, strange: Floats) -> Floats:
    """Return what it costs to take each candidate for each note.

    Parameters
    ----------
    strange : shape (n_candidates,), as from ``strangeness``

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    weak = np.clip((3.6 - found.strength) * 1.6, 0, 3.0)
    weak = weak + np.where(echoes(found), 2.0, 0.0) + _STRANGE * strange
    weak = weak + np.where(bounces(found, score), 3.0, 0.0)
    if score.graces.any():
        weak = weak + np.where(before_another(found), 3.0, 0.0)
    cost = np.repeat(weak[:, None], len(score), axis=1)
    if score.graces.any():
        bare = np.append(True, np.diff(found.times_s) > _GRACE_S)
        cost += _NO_GRACE * (bare[:, None] & (score.graces > 0)[None, :])
    if score.accents.any() and not score.accents.all():
        loud = _loudness(found, score)
        cost += np.where(score.accents[None, :], np.clip(-loud, 0, 3)[:, None], np.clip(loud, 0, 3)[:, None])
    return cost


def _loudness(found: Candidates, score: Score) -> Floats:
    """Return how far each candidate leans to the accents (above 0) or to the others."""
    level = found.level_db[found.strength > SETTINGS.strong]
    if len(level) < 4:
        return np.zeros(len(found))
    share = float(score.accents.mean())
    high = np.percentile(level, 100 * (1 - share / 2))
    low = np.percentile(level, 100 * (1 - share) / 2)
    if high - low < 3:
        return np.zeros(len(found))
    return 3.0 * (found.level_db - (high + low) / 2) / (high - low)


def start_costs(found: Candidates, score: Score, click: HeardClick) -> Floats:
    """Return what it costs to begin with each candidate and note, given a count-in.

    Where the click was a count-in only, the first beat after it is where the top of the
    exercise is due.

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    shape = (len(found), len(score))
    if click.through:
        return np.zeros(shape)
    due = click.times_s[-1] + click.beat_s
    beats_off = (
        found.times_s[:, None] - due - score.starts[None, :] * click.beat_s / score.beat
    ) / click.beat_s
    return (
        np.where(np.abs(beats_off) < 0.3, 0.0, 3.0)
        + np.where(found.times_s < due - 0.5 * click.beat_s, 2.0, 0.0)[:, None]
    )


def beat_costs(found: Candidates, score: Score, click: HeardClick) -> Floats:
    """Return what it costs to take a candidate for a note that the click puts elsewhere in the beat.

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    if not click.through:
        return np.zeros((len(found), len(score)))
    beats = (found.times_s - click.first_s) / click.beat_s
    off = beats[:, None] - (score.starts / score.beat)[None, :]
    off = (off - np.round(off)) * click.beat_s
    spread = max(0.03, 0.1 * click.beat_s)
    return np.minimum(0.5 * (off / spread) ** 2, _OFF_BEAT)


def just_before_costs(found: Candidates, score: Score, strange: Floats) -> Floats:
    """Return what it costs to begin where a like stroke came just one note before: it was played, too.

    Parameters
    ----------
    strange : shape (n_candidates,), as from ``strangeness``

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    out = np.zeros((len(found), len(score)))
    whole_s = score.tempo.whole_note_s
    ahead = np.diff(np.append(score.starts[-1] - score.length, score.starts)) * whole_s
    worth = np.where(found.strength > _FAINTLY, np.clip((found.strength - _FAINTLY) / 1.5, 0.3, 1.0), 0.0)
    worth = worth * (1 - strange)
    if score.graces.any():
        worth = np.where(before_another(found), 0.0, worth)
    for note, gap_s in enumerate(ahead.tolist()):
        for back in range(1, 4):
            apart = found.times_s[back:] - found.times_s[:-back]
            near = (apart > 0.65 * gap_s) & (apart < 1.35 * gap_s)
            out[back:, note] = np.maximum(out[back:, note], _JUST_BEFORE * near * worth[:-back])
    return out


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
