"""Each hit with the stick that made it: how high before and after, which class, what raised it.

Conventions: hits on the sound's timeline, sticks on the picture's; cm. A class reaches half-way to its
neighbour; how likely a class is follows from the height and its standard deviation, a normal one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass, StrokeHeights
from evenhand.watching.impacts import HitBy
from evenhand.watching.peaks import COMMON_LIFT_SCALE, Peak, SeenWay, lift_index, rise_kind
from evenhand.watching.values import LiftParts, LiftScale, SeenStroke

ZERO_SD_CM = 0.25  # of a hand's zero and of what the lens and the hand's depth leave over
LEAST_GAP_S = 0.03  # between two hits of a hand: nearer, the second is the stick's own bounce
UNKNOWN = LiftParts()
FEWEST_FPS = 24.0  # to judge a rise
TURNING_CM_S2, BETWEEN_FRAMES = (
    4000.0,
    0.3,
)  # about how sharply a stick turns down; what a parabola leaves of it


@dataclass(frozen=True, slots=True)
class Judging:
    """What strokes are judged by. ``scale_sd`` is how far all heights may be off together, as a share."""

    scale_sd: float
    fps: float
    lifting: LiftScale = COMMON_LIFT_SCALE

    def sd_cm(self, top: Peak) -> float:
        """Return the standard deviation of a height."""
        missed_cm = BETWEEN_FRAMES * TURNING_CM_S2 / 8 / max(self.fps, 1.0) ** 2
        return math.hypot(top.sd_cm, ZERO_SD_CM, self.scale_sd * top.height_cm, missed_cm)


def strokes_of(
    hits_s: Sequence[float],
    struck: Sequence[HitBy],
    ways: Mapping[Hand, SeenWay],
    ups: frozenset[int],
    heights: StrokeHeights,
    judging: Judging,
) -> tuple[SeenStroke, ...]:
    """Look at each hit's stick.

    Parameters
    ----------
    hits_s, struck
        The hits, and whose each is, in the same order.
    ways
        Each hand's stick; none where heights are not known.
    ups
        Places of hits after which the stick was to be lifted: their rise is not judged.
    judging
        What they are judged by.
    """
    out = []
    for i, (time_s, each) in enumerate(zip(hits_s, struck, strict=True)):
        way = None if each.hand is None else ways.get(each.hand)
        if way is None:
            out.append(SeenStroke(time_s, each.hand, each.probability))
            continue
        before, after = _neighbours(struck, i)
        out.append(_stroke(time_s, each, way, (before, after), i in ups, heights, judging))
    return tuple(out)


def _neighbours(struck: Sequence[HitBy], i: int) -> tuple[float, float]:
    """Return when the same hand hit before and after, seconds of the picture."""
    hand, at = struck[i].hand, struck[i].time_s
    before = [s.time_s for s in struck[:i] if s.hand == hand and s.time_s < at - LEAST_GAP_S]
    after = [s.time_s for s in struck[i + 1 :] if s.hand == hand and s.time_s > at + LEAST_GAP_S]
    return (before[-1] if before else -math.inf), (after[0] if after else math.inf)


def _stroke(  # noqa: PLR0917 - all that a stroke is made of
    time_s: float,
    each: HitBy,
    way: SeenWay,
    between_s: tuple[float, float],
    up: bool,  # noqa: FBT001 - one of a row's facts
    heights: StrokeHeights,
    judging: Judging,
) -> SeenStroke:
    top = way.preparation(each.time_s, between_s[0])
    rebound = way.rebound(each.time_s, between_s[1])
    told = rebound is not None and not up and judging.fps >= FEWEST_FPS
    parts = way.parts(each.time_s, rebound) if told and rebound is not None else UNKNOWN
    index = lift_index(parts, judging.lifting)
    sd = None if top is None else judging.sd_cm(top)
    stroke, probability = (None, None) if top is None or sd is None else class_of(top.height_cm, sd, heights)
    return SeenStroke(
        time_s,
        each.hand,
        each.probability,
        None if top is None else top.height_cm,
        sd,
        None if rebound is None else rebound.height_cm,
        stroke,
        probability,
        _angle(way, top),
        rise_kind(index),
        index,
        parts,
    )


def _angle(way: SeenWay, top: Peak | None) -> float | None:
    """Return the stick's angle at the top of its preparation, where bands tell it."""
    if top is None:
        return None
    angle = float(way.angle_deg[np.abs(way.times_s - top.time_s).argmin()])
    return angle if math.isfinite(angle) else None


def class_limits(heights: StrokeHeights) -> tuple[float, float]:
    """Return the heights at which a tap becomes a half and a half a full, cm."""
    return (
        (heights.tap.high_cm + heights.half.low_cm) / 2,
        (heights.half.high_cm + heights.full.low_cm) / 2,
    )


def class_of(height_cm: float, sd_cm: float, heights: StrokeHeights) -> tuple[StrokeClass, float]:
    """Return a height's likeliest class, and how likely it is.

    >>> from evenhand.music.strokes.heights import COMMON_HEIGHTS
    >>> class_of(10.0, 0.6, COMMON_HEIGHTS)
    ('tap', 1.0)
    """
    below = [0.0, *(_below(limit, height_cm, sd_cm) for limit in class_limits(heights)), 1.0]
    shares = [high - low for low, high in pairwise(below)]
    best = int(np.argmax(shares))
    return STROKE_CLASSES[best], round(shares[best], 6)


def _below(limit_cm: float, height_cm: float, sd_cm: float) -> float:
    return (1 + math.erf((limit_cm - height_cm) / (math.sqrt(2) * max(sd_cm, 1e-6)))) / 2
