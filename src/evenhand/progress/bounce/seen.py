"""A drop as a film shows it: from how high, how high it came back each time, and what speed it keeps by that.

A stick that keeps the share e of its speed at a hit comes back to e^2 of its height, so ln h_k is a straight
line in k with slope 2 ln e, whatever the acceleration of its fall is; the time of its flights shrinks by e
only as long as that stays the same (any textbook's bouncing ball, as in ``restitution``). Both are said, and
whether they agree.

Conventions: times in seconds on the sound's timeline, heights in cm over where the stick meets the pad,
arrays of shape (n,); flight k is that after hit k, and -1 the fall.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from evenhand.arrays import Floats
from evenhand.measuring.estimates import within
from evenhand.measuring.values import Measure
from evenhand.progress.bounce.restitution import USUAL_UNEVENNESS, Agreement, HeardDrop, SeenDrop

HEIGHT_SD_CM = 0.5  # of one height (docs/watching.md: fitted to simulated films)
LEAST_CM = 1.5  # of a flight whose height can be told
LEAST_FRAMES = 5  # in a flight
FEWEST = 3  # heights from which a slope is said
NORMAL_95 = 1.96


def seen_drop(
    drop: HeardDrop, times_s: Floats, height_cm: Floats, fall_cm: tuple[float, float] | None, scale_sd: float
) -> SeenDrop:
    """Say what is seen of one drop.

    Parameters
    ----------
    times_s, height_cm
        The stick's way, shape (n_frames,); NaN where it was not seen.
    fall_cm
        From how high it was dropped, with its standard deviation; None where it was not seen.
    scale_sd
        By how much all heights may be off together, as a share.
    """
    flights = list(_flights(drop, times_s, height_cm))
    k = np.array(([-1] if fall_cm else []) + [number for number, _ in flights], dtype=np.float64)
    heights = np.array([cm for cm, _ in [fall_cm] if cm] if fall_cm else [], dtype=np.float64)
    heights = np.append(heights, [cm for _, cm in flights])
    kept = _kept(k, heights)
    return SeenDrop(
        _height(fall_cm, scale_sd),
        tuple(round(cm, 2) for _, cm in flights),
        kept,
        agreement(kept, drop.restitution),
    )


def _height(fall_cm: tuple[float, float] | None, scale_sd: float) -> Measure:
    if fall_cm is None:
        return Measure(None, 0, "cm", needs=1)
    cm, sd_cm = fall_cm
    return within(cm, NORMAL_95 * math.hypot(sd_cm, scale_sd * cm), 1, "cm")


def _flights(drop: HeardDrop, times_s: Floats, height_cm: Floats) -> Iterator[tuple[int, float]]:
    """Give the flights up to the first that is longer than the one before, or too short or low to be told."""
    before_s = math.inf
    for number, (start_s, end_s) in enumerate(pairwise(drop.hits_s)):
        inside = (times_s > start_s) & (times_s < end_s) & np.isfinite(height_cm)
        damped = drop.damped_from_s is not None and start_s >= drop.damped_from_s
        if end_s - start_s > before_s or np.count_nonzero(inside) < LEAST_FRAMES or damped:
            return
        top_cm = _top(times_s[inside], height_cm[inside])
        if top_cm < LEAST_CM:
            return
        before_s = end_s - start_s
        yield number, top_cm


def _top(times_s: Floats, height_cm: Floats) -> float:
    """Return the top of a parabola through a flight's upper half, cm; shape (n,) each."""
    upper = height_cm >= height_cm.max() / 2
    if np.count_nonzero(upper) < LEAST_FRAMES - 2:
        return float(height_cm.max())
    t = times_s[upper] - times_s[upper].mean()
    a, b, c = np.polyfit(t, height_cm[upper], 2)
    return float(c - b * b / (4 * a)) if a < 0 else float(height_cm.max())


def _kept(k: Floats, heights: Floats) -> Measure:
    """Fit ln h = a + 2 k ln e, each height as sure as its size lets it be; shape (n,) each."""
    n = len(heights)
    if n < FEWEST:
        return Measure(None, n, "share", needs=FEWEST)
    weights = (heights / HEIGHT_SD_CM) ** 2
    logs, x = np.log(heights), 2 * k
    middle_x, middle = (float(np.average(each, weights=weights)) for each in (x, logs))
    spread = float((weights * (x - middle_x) ** 2).sum())
    slope = float((weights * (x - middle_x) * (logs - middle)).sum()) / spread
    stray = float((weights * (logs - middle - slope * (x - middle_x)) ** 2).sum()) / (n - 2)
    reach = NORMAL_95 * math.sqrt(max(stray, 1.0) / spread + USUAL_UNEVENNESS**2 / (n - 1))
    low, high = math.exp(slope - reach), min(math.exp(slope + reach), 1.0)
    return Measure(math.exp(slope), n, "share", (low, high))


def agreement(by_heights: Measure, by_times: Measure) -> Agreement:
    """Tell whether two shares of speed kept agree: the 95 % range of their ratio holds 1, or not."""
    spreads = []
    for each in (by_heights, by_times):
        if each.value is None or each.ci95 is None or min(each.ci95) <= 0:
            return "can't tell"
        spreads.append(math.log(each.ci95[1] / each.ci95[0]) / 2)
    apart = abs(math.log((by_heights.value or 1.0) / (by_times.value or 1.0)))
    return "agree" if apart <= math.hypot(*spreads) else "differ"
