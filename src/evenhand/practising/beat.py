"""Read the beat of a train of strokes: how long from one to the next, also where every second one is hidden.

Conventions: candidates in order of time, shape (n,); ``curve`` is how much every half millisecond stands
out (in the spreads of steady noise), shape (n_frames,), or None where blows are known exactly.

The distances of all pairs of clear hits pile up at the time that the train needs to come round: one stroke,
or two where the hands are uneven. Whether another stroke lies in the middle is then seen by laying all
rounds over each other: what is too weak to be a hit once shows in the mean of hundreds.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Curve = NDArray[np.float32]

FRAME_HZ = 2000
SHORTEST_S, LONGEST_S = 0.038, 1.5  # of a round
_TIMES = 3  # a round's distance piles up once more at twice and three times itself
CLEAR = 2.8
_STEP = 0.012  # of the logarithm of a distance
_WINDOW_S, _HOP_S = 6.0, 2.0
_FIRST_SHARE = 0.72  # of the highest pile: the shortest distance that reaches it is a round
_BINS, _INSIDE = 40, (0.28, 0.72)  # a round in so many parts; where its middle stroke may lie
_OFTEN = 0.25  # of the rounds with a clear hit inside: there is a middle stroke
_LEAST_HEIGHT, _LEAST_BUMP, _LEAST_Z, _SIDE = 0.1, 0.5, 5.0, 6
_LONGEST_HIDING_S = 0.170  # in a longer round a stroke has room to be heard by itself
_SHORTEST_HIDING_S = 0.076  # no two hands play more than 26 strokes a second
_REFLECTED_S = 0.031  # sooner after a hit, walls answer
_HIDING_STRENGTH = 6.5  # hits that stand out more leave nothing hidden between them
_FEWEST_ROUNDS = 8


def local_beat(times_s: Floats, strength: Floats, curve: Curve | None) -> Floats:
    """Return the time from stroke to stroke around each candidate, s."""
    clear = times_s[strength > CLEAR]
    if len(clear) < 4:
        return np.full(
            len(times_s), max(float(np.median(np.diff(times_s))) if len(times_s) > 1 else 0.5, 0.02)
        )
    centres, rounds = _rounds(clear)
    hides = float(np.median(strength[strength > CLEAR])) < _HIDING_STRENGTH
    halved = _has_middle(clear, centres, rounds, curve if hides else None)
    beat = np.interp(times_s, centres, rounds)
    return np.asarray(beat / 2 if halved else beat)


def _rounds(clear: Floats) -> tuple[Floats, Floats]:
    """Return how long a round is, every two seconds."""
    centres = np.arange(clear[0], clear[-1] + _HOP_S, _HOP_S)
    piles = np.array(
        [_pile(clear[(clear >= c - _WINDOW_S / 2) & (clear < c + _WINDOW_S / 2)]) for c in centres]
    )
    whole = piles.sum(axis=0)
    first = _first_peak(whole)
    span = round(0.25 / _STEP)  # a train changes its tempo by a quarter at most while it lasts
    low = max(first - span, 0)
    near = piles + 0.5 * (np.roll(piles, 1, axis=0) + np.roll(piles, -1, axis=0)) if len(piles) > 2 else piles
    weight = np.exp(-0.5 * ((np.arange(len(whole)) - first) * _STEP / 0.12) ** 2)
    best = low + (near * weight)[:, low : first + span + 1].argmax(axis=1)
    return centres, SHORTEST_S * np.exp((best + 0.5) * _STEP)


def _pile(clear: Floats) -> Floats:
    """Pile up the distances of pairs of hits by their logarithm; 1 is what chance would give."""
    edges = np.arange(0, np.log(_TIMES * LONGEST_S / SHORTEST_S) + _STEP, _STEP)
    if len(clear) < 4:
        return np.zeros(len(edges) - 1 - round(np.log(_TIMES) / _STEP))
    apart = (clear[None, :] - clear[:, None])[np.triu_indices(len(clear), 1)]
    apart = apart[(apart > SHORTEST_S) & (apart < _TIMES * LONGEST_S)]
    counted, _ = np.histogram(np.log(apart / SHORTEST_S), edges)
    widths = SHORTEST_S * np.diff(np.exp(edges))
    by_chance = len(clear) ** 2 / max(clear[-1] - clear[0], 0.1) * widths
    kernel = np.array([1.0, 2.0, 3.0, 2.0, 1.0])
    pile = np.convolve(counted, kernel, "same") / np.convolve(by_chance, kernel, "same")
    single = len(edges) - 1 - round(np.log(_TIMES) / _STEP)
    again = [
        pile[k : k + single] for k in (round(float(np.log(times)) / _STEP) for times in range(1, _TIMES + 1))
    ]
    return np.asarray(np.mean(again, axis=0))


def _first_peak(pile: Floats) -> int:
    """Return the shortest distance whose pile is about as high as the highest."""
    peak = (pile[1:-1] >= pile[:-2]) & (pile[1:-1] > pile[2:]) & (pile[1:-1] >= _FIRST_SHARE * pile.max())
    found = np.flatnonzero(peak)
    return int(found[0] + 1 if len(found) else pile.argmax())


def _has_middle(clear: Floats, centres: Floats, rounds: Floats, curve: Curve | None) -> bool:
    """Tell whether another stroke lies within a round."""
    starts, lengths = _whole_rounds(clear, np.interp(clear, centres, rounds))
    if len(starts) < _FEWEST_ROUNDS:
        return False
    first = np.searchsorted(clear, starts + _INSIDE[0] * lengths)
    last = np.searchsorted(clear, starts + _INSIDE[1] * lengths)
    if np.mean(last > first) > _OFTEN:
        return True
    hiding = _SHORTEST_HIDING_S < float(np.median(lengths)) < _LONGEST_HIDING_S
    return curve is not None and hiding and _bump(starts, lengths, curve)


def _whole_rounds(clear: Floats, rounds: Floats) -> tuple[Floats, Floats]:
    """Find hits that another follows a round later."""
    due = clear + rounds
    at = np.clip(np.searchsorted(clear, due), 1, len(clear) - 1)
    nearer = np.where(np.abs(clear[at] - due) < np.abs(clear[at - 1] - due), at, at - 1)
    there = np.abs(clear[nearer] - due) < 0.12 * rounds
    return clear[there], (clear[nearer] - clear)[there]


def _bump(starts: Floats, lengths: Floats, curve: Curve) -> bool:
    """Tell whether the mean of all rounds shows something that begins inside."""
    share = (np.arange(_BINS) + 0.5) / _BINS
    frames = np.round((starts[:, None] + lengths[:, None] * share) * FRAME_HZ).astype(np.intp)
    laid = curve[np.clip(frames, 0, len(curve) - 1)].astype(np.float64)
    mean, doubt = laid.mean(axis=0), laid.std(axis=0) / np.sqrt(len(laid))
    soonest = max(_INSIDE[0], _REFLECTED_S / float(np.median(lengths)))
    inside = np.flatnonzero((share > soonest) & (share < _INSIDE[1]))
    sides = np.maximum(mean[inside - _SIDE], mean[inside + _SIDE])
    bump = mean[inside] - sides
    stands = (bump > _LEAST_BUMP) & (bump > _LEAST_Z * doubt[inside]) & (mean[inside] > _LEAST_HEIGHT)
    return bool(stands.any())
