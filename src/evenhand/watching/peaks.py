"""How high a stick was before and after a hit, and how it rose.

The height before a hit is the last highest point ahead of it, the rebound the first after it; each is read
from the parabola through the frames about it. How a stick rises tells what raised it. One that rebounds
leaves fast and slows down as a thrown ball does: at half its time it has three quarters of its height. One
that is lifted leaves slowly and gathers speed. Three figures of the rise are weighed together, never one
alone: a stick that leaves fast, stops low and is lifted from there has one of them right. The weights were
fitted to simulated sticks; on real players the answer is not proven, and it is experimental.

Conventions: seconds on the picture's timeline; heights in cm over the pad; arrays of shape (n_frames,) of the
frames in which the stick was seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Floats
from evenhand.watching.values import LiftParts, LiftScale, RiseKind

GRAVITY_CM_S2 = 980.665
FALLEN_CM, FALLEN_SHARE = 0.8, 0.06  # below the highest point so far: that was it
LONGEST_S = 1.2  # from a hit to its rebound, or from a preparation to its hit
STOPPED_SHARE, STOPPED_S = 0.06, 0.03  # of its largest speed, for so long: it has had its rebound
RISEN_SHARE = 0.95
FEWEST_FRAMES = 3  # of a rise
LEAST_RISE_CM = 3.0
AT_S = 0.030
# log odds of a lift, in the figures less their values for a free rise; each is counted as far as it goes
WEIGHTS = (8.0, 6.0, 3.5)
COMMON_LIFT_SCALE = LiftScale(at_free=(0.66, 0.90, 0.95), middle=2.1)
MOST_SHORT, MOST_OVER = 1.0, 0.15
FREE_BELOW, LIFTED_FROM = 0.2, 0.9
EXPOSED_S = 0.005  # half of a usual exposure
LONGEST_WAY_S = 0.15  # of the frames that a way is carried on from


@dataclass(frozen=True, slots=True)
class Peak:
    """A highest point: when, how high, and how sure the height is as the frames allow."""

    time_s: float
    height_cm: float
    sd_cm: float


@dataclass(frozen=True, slots=True, eq=False)
class SeenWay:
    """One stick's way: times, rising, heights, and the stick's angle (NaN where unknown), all (n_frames,)."""

    times_s: Floats
    height_cm: Floats
    angle_deg: Floats

    def between(self, start_s: float, end_s: float) -> tuple[Floats, Floats]:
        """Return the frames between two times, shapes (n,)."""
        a, b = np.searchsorted(self.times_s, (start_s, end_s))
        return self.times_s[a:b], self.height_cm[a:b]

    def carried_to(self, hit_s: float) -> Iterator[float]:
        """Give where the stick's way leads to at a hit: from three frames before it and from three after.

        A frame that was exposed while the stick met the pad shows neither way, and is left out.
        """
        k = int(np.searchsorted(self.times_s, hit_s))
        for own in (self._three(hit_s, slice(k - 4, k)), self._three(hit_s, slice(k, k + 4))):
            if own is not None:
                times, places = own
                yield float(np.linalg.solve(np.stack([np.ones(3), times, times * times], axis=1), places)[0])

    def _three(self, hit_s: float, four: slice) -> tuple[Floats, Floats] | None:
        """Return the times from a hit and the places of the three frames next to it, of four on one side."""
        if four.start < 0 or four.stop > self.times_s.size:
            return None
        times, places = self.times_s[four] - hit_s, self.height_cm[four]
        nearest = np.argsort(np.abs(times))
        kept = np.sort(nearest[1:] if abs(times[nearest[0]]) < EXPOSED_S else nearest[:3])
        return None if np.ptp(times) > LONGEST_WAY_S else (times[kept], places[kept])

    def preparation(self, hit_s: float, after_s: float) -> Peak | None:
        """Return the last highest point before a hit, no earlier than ``after_s``."""
        times, heights = self.between(max(after_s, hit_s - LONGEST_S), hit_s)
        if times.size < 2:
            return None
        k = _first_top(heights[::-1])
        return _peak(times, heights, times.size - 1 - k)

    def rebound(self, hit_s: float, before_s: float) -> Peak | None:
        """Return the first highest point after a hit, no later than ``before_s``."""
        times, heights = self.between(hit_s, min(before_s, hit_s + LONGEST_S))
        if times.size < 2:
            return None
        k = _first_top(heights)
        stop = _first_stop(np.append(hit_s, times[: k + 1]), np.append(0.0, heights[: k + 1]))
        return (
            _peak(times, heights, k) if stop is None else Peak(float(times[stop]), float(heights[stop]), 0.5)
        )

    def parts(self, hit_s: float, top: Peak) -> LiftParts:
        """Return how the stick rose from a hit to its top, as the parts of the lift index.

        The rise ends where the stick has 95 % of its height, so that waiting up there is no part of it; a
        ballistic one has then .66 of that at half the time: 2x - x^2 at x = .388, over .95.
        """
        height = RISEN_SHARE * top.height_cm
        times, heights = self.between(hit_s, top.time_s + 1e-6)
        times, heights = np.append(hit_s, times), np.append(0.0, heights)
        times, heights = np.append(times, top.time_s), np.append(heights, top.height_cm)
        rise_s = float(np.interp(height, np.maximum.accumulate(heights), times)) - hit_s
        if times.size < FEWEST_FRAMES + 2 or height < LEAST_RISE_CM or rise_s <= 0:
            return LiftParts()
        half = float(np.interp(hit_s + rise_s / 2, times, heights)) / height
        speed = _leaving_speed(times - hit_s, heights, rise_s)
        free = np.sqrt(2 * GRAVITY_CM_S2 * top.height_cm) * AT_S - GRAVITY_CM_S2 * AT_S**2 / 2
        early = float(np.interp(hit_s + AT_S, times, heights))
        return LiftParts(half, max(speed, 0.0) ** 2 / (2 * GRAVITY_CM_S2 * top.height_cm), early / free)


def _first_top(heights: Floats) -> int:
    """Return where heights are highest before they first fall clearly; shape (n,), n of 1 or more."""
    highest = np.maximum.accumulate(heights)
    fallen = heights < highest - np.maximum(FALLEN_CM, FALLEN_SHARE * highest)
    end = int(fallen.argmax()) if fallen.any() else heights.size
    return int(heights[:end].argmax())


def _first_stop(times: Floats, heights: Floats) -> int | None:
    """Return where a rise stops on its way before it goes on, without the hit; None where it does not."""
    speed = np.diff(heights) / np.maximum(np.diff(times), 1e-6)
    if speed.size < 5 or speed.max() <= 0:
        return None
    slow = (speed < STOPPED_SHARE * speed.max()) & (heights[1:] > LEAST_RISE_CM)
    for k in np.flatnonzero(slow).tolist():
        rest = np.flatnonzero(~slow[k:])
        going_on = heights[-1] - heights[k] > max(FALLEN_CM, 0.1 * heights[-1])
        if rest.size and times[k + rest[0]] - times[k] >= STOPPED_S and going_on:
            return int(k)
    return None


def _peak(times: Floats, heights: Floats, k: int) -> Peak:
    """Return the top of the parabola through a frame and its neighbours."""
    height = float(heights[k])
    if not 0 < k < times.size - 1:
        return Peak(float(times[k]), height, 0.6)
    t, h = times[k - 1 : k + 2] - times[k], heights[k - 1 : k + 2]
    a, b, _ = np.linalg.solve(np.stack([t * t, t, np.ones(3)], axis=1), h)
    at = float(-b / (2 * a)) if a < 0 else 0.0
    if a >= 0 or not t[0] <= at <= t[2]:
        return Peak(float(times[k]), height, 0.3)
    return Peak(float(times[k] + at), float(height - b * b / (4 * a)), 0.2)


def _leaving_speed(after_s: Floats, heights: Floats, rise_s: float) -> float:
    """Return the speed with which a stick leaves the pad, cm/s, by a parabola from the hit on."""
    early = after_s <= max(0.6 * rise_s, after_s[min(FEWEST_FRAMES, after_s.size - 1)])
    t, h = after_s[early][1:], heights[early][1:]
    if t.size == 1:
        return float(h[0] / t[0])
    speed, _ = np.linalg.lstsq(np.stack([t, t * t], axis=1), h, rcond=None)[0]
    return float(speed)


def lift_odds(parts: LiftParts, at_free: tuple[float, float, float]) -> float | None:
    """Return how far a rise is from a free one, as log odds; None where a part is missing."""
    if parts.half_rise is None or parts.energy_ratio is None or parts.at_30_ms is None:
        return None
    figures = (parts.half_rise, parts.energy_ratio, parts.at_30_ms)
    short = (
        min(max(free - each, -MOST_OVER), MOST_SHORT) for free, each in zip(at_free, figures, strict=True)
    )
    return sum(weight * each for weight, each in zip(WEIGHTS, short, strict=True))


def lift_index(parts: LiftParts, scale: LiftScale = COMMON_LIFT_SCALE) -> float | None:
    """Return the index of a rise; None where a part is missing.

    >>> round(lift_index(LiftParts(0.66, 1.0, 1.0)), 2), round(lift_index(LiftParts(0.45, 0.2, 0.3)), 2)
    (0.05, 1.0)
    """
    odds = lift_odds(parts, scale.at_free)
    return None if odds is None else 1 / (1 + math.exp(-scale.slope * (odds - scale.middle)))


def rise_kind(index: float | None) -> RiseKind | None:
    """Say what raised a stick; between the two it is not sure."""
    if index is None:
        return None
    if index < FREE_BELOW:
        return "free"
    return "lifted" if index >= LIFTED_FROM else "unsure"
