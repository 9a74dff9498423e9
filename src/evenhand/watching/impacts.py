"""Where a stick comes down, how the sound is shifted against the picture, and whose hit each is.

A stick falls, meets the pad between two frames, and leaves it. Where the line of its fall, carried on,
reaches the pad is the impact, to a few ms whatever the frame rate. The sound's shift is the one at which
most hits meet an impact: a wrong one, however regular the playing, leaves impacts and hits over at either
end.

Conventions: seconds on the picture's timeline unless ``hits`` are meant; heights in cm, up; arrays of shape
(n,). A shift is the sound's time less the picture's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Floats, Ints, median
from evenhand.music.exercise import HANDS, Hand

FALL_S, LEAST_FALL_CM = 0.12, 1.0  # a stick falls at least so far, in so long, before it meets the pad
FULL_FALL_CM = 4.0  # a fall from here on is sure
MOST_SHIFT_S, SHIFT_STEP_S, SHIFT_SD_S = 0.6, 0.002, 0.010
FAR_SHIFT_COST = 0.12  # of the score, at the largest shift: phones are seldom far off
NEAR_S = 0.025
FASTER = 0.8  # of the speed before: still falling to this frame, or risen from it already
DROP_S = 0.08
LEAST_MATCHED = 0.5  # of the hits


@dataclass(frozen=True, slots=True, eq=False)
class Impacts:
    """Where one stick came down: when, and how far it had fallen, both (n,)."""

    times_s: Floats
    fall_cm: Floats


def impacts_of(times_s: Floats, height_cm: Floats) -> Impacts:
    """Find where a stick comes down.

    Parameters
    ----------
    times_s, height_cm : shape (n,); NaN where it was not seen; the zero may be off by some cm
    """
    seen = np.isfinite(height_cm)
    times, heights = times_s[seen], height_cm[seen]
    if times.size < 5:
        return Impacts(*np.zeros((2, 0)))
    k = np.flatnonzero((heights[1:-1] <= heights[:-2]) & (heights[1:-1] < heights[2:])) + 1
    falls = np.array([_fall(times, heights, int(i)) for i in k])
    kept = falls > LEAST_FALL_CM if k.size else np.zeros(0, dtype=bool)
    k, falls = k[kept], falls[kept] if k.size else np.zeros(0)
    return Impacts(np.array([_meets(times, heights, int(i)) for i in k]), falls)


def _fall(times: Floats, heights: Floats, k: int) -> float:
    """Return how far a stick has fallen to a frame, cm."""
    before = (times > times[k] - FALL_S) & (times <= times[k])
    return float(heights[before].max() - heights[k])


def _meets(times: Floats, heights: Floats, k: int) -> float:
    """Return when the stick meets the pad about frame k: where the lines of fall and rise cross."""
    here = float(times[k])
    if k < 2 or k + 2 >= times.size:
        return here
    falling = _line(times[k - 2 : k], heights[k - 2 : k])
    rising = _line(times[k + 1 : k + 3], heights[k + 1 : k + 3])
    still_falling = _line(times[k - 1 : k + 1], heights[k - 1 : k + 1])
    risen = _line(times[k : k + 2], heights[k : k + 2])
    if still_falling[0] < FASTER * falling[0]:
        falling = still_falling
    elif risen[0] > FASTER * rising[0]:
        rising = risen
    if falling[0] >= rising[0]:
        return here
    at = (rising[1] - falling[1]) / (falling[0] - rising[0])
    return float(min(max(at, times[k - 1]), times[k + 1]))


def _line(times: Floats, heights: Floats) -> tuple[float, float]:
    """Return slope and intercept through two points."""
    slope = float((heights[1] - heights[0]) / max(times[1] - times[0], 1e-6))
    return slope, float(heights[1] - slope * times[1])


def shift_of(hits_s: Floats, by_hand: Mapping[Hand, Impacts]) -> float | None:
    """Return how much later the sound comes than the picture, seconds; None where it cannot be found.

    Parameters
    ----------
    hits_s : shape (n_hits,), rising, on the sound's timeline
    """
    times = np.concatenate([each.times_s for each in by_hand.values()])
    weights = np.concatenate([np.minimum(each.fall_cm / FULL_FALL_CM, 1.0) for each in by_hand.values()])
    if not times.size or not hits_s.size:
        return None
    order = np.argsort(times)
    times, weights = times[order], weights[order]
    apart = hits_s[:, None] - times[None, :]
    shifts = np.arange(-MOST_SHIFT_S, MOST_SHIFT_S + SHIFT_STEP_S / 2, SHIFT_STEP_S)
    score = np.array([_score(apart, weights, shift) for shift in shifts])
    score *= 1 - FAR_SHIFT_COST * np.abs(shifts) / MOST_SHIFT_S
    best = float(shifts[score.argmax()])
    near = np.abs(apart - best) < NEAR_S
    if np.count_nonzero(near.any(axis=1)) < LEAST_MATCHED * hits_s.size:
        return None
    return median(apart[near])


def _score(apart: Floats, weights: Floats, shift: float) -> float:
    """Return how many hits and impacts meet at a shift, and how near."""
    close = np.exp(-(((apart - shift) / SHIFT_SD_S) ** 2) / 2) * weights
    return float(close.max(axis=1).sum() + close.max(axis=0).sum())


@dataclass(frozen=True, slots=True)
class HitBy:
    """One hit's hand, how sure it is, and when the stick met the pad, on the picture's timeline."""

    hand: Hand | None
    probability: float | None
    time_s: float


def struck_by(
    at_s: Floats, sticks: Mapping[Hand, tuple[Floats, Floats]], by_hand: Mapping[Hand, Impacts]
) -> list[HitBy]:
    """Say which hand made each hit: the one that came down there, with the largest drop.

    Parameters
    ----------
    at_s : shape (n_hits,), when the hits are due in the picture, rising
    sticks : times and heights of each hand's stick, shape (n_frames,) each
    """
    hands = [hand for hand in HANDS if hand in sticks]
    if not hands or not at_s.size:
        return [HitBy(None, None, float(t)) for t in at_s]
    rows = [_evidence(at_s, *sticks[hand], by_hand[hand]) for hand in hands]
    weights = np.stack(rows, axis=1)
    out = []
    for t, weight in zip(at_s.tolist(), weights, strict=True):
        total = float(weight.sum())
        best = int(weight.argmax())
        alone = len(hands) == 1
        if total <= 0 or (alone and weight[0] < 0.5):
            out.append(HitBy(None, None, t))
        else:
            out.append(HitBy(hands[best], float(weight[best] / (total + 0.02)), t))
    return out


def _evidence(at_s: Floats, times_s: Floats, height_cm: Floats, impacts: Impacts) -> Floats:
    """Return how much speaks for a stick at each hit, shape (n_hits,), about 0 to 2.

    An impact speaks for the hit nearest to it alone; a drop in the last 80 ms for any.
    """
    seen = np.isfinite(height_cm)
    if not seen.any():
        return np.zeros(at_s.size)
    grid = at_s[:, None] + np.linspace(-DROP_S, 0, 9)
    along = np.interp(grid, times_s[seen], height_cm[seen])
    drop = along.max(axis=1) - along[:, -1]
    low = np.exp(-np.maximum(along[:, -1] - 2.0, 0.0) / 2.0)
    weight = np.minimum(drop / FULL_FALL_CM, 1.0) * low * 0.5
    hit, near = _nearest_hits(at_s, impacts)
    close = np.exp(-((near / 0.015) ** 2) / 2) * np.minimum(impacts.fall_cm / FULL_FALL_CM, 1.0)
    np.maximum.at(weight, hit, weight[hit] + 1.5 * close)
    return np.asarray(weight)


def _nearest_hits(at_s: Floats, impacts: Impacts) -> tuple[Ints, Floats]:
    """Return each impact's nearest hit and how far it is, shapes (n_impacts,)."""
    hit = (
        np.abs(at_s[:, None] - impacts.times_s[None, :]).argmin(axis=0)
        if impacts.times_s.size
        else np.zeros(0, int)
    )
    return hit, impacts.times_s - at_s[hit] if impacts.times_s.size else np.zeros(0)
