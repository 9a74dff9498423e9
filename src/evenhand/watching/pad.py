"""Find the pad in the still picture under where the sticks land: how wide it is, and whether level and whole.

From where a stick lands the pad is followed to both sides, column by column, as long as what lies there looks
like it: a pad is seen wide and thin. Its lower edge, of its top or its side, is half an ellipse.

Conventions: px of the picture as shown; planes lie on the grid, shape (rows, columns).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats, median
from evenhand.film import Plane

UNDER_CM = (
    0.5,
    1.0,
    1.6,
    2.3,
    3.0,
    4.2,
    5.6,
)  # the colour of the pad is taken so far under a landing, in turn
SEED_CM = 0.6  # over so much
UNLIKE_LUMA, UNLIKE_CHROMA = 16.0, 10.0
GAP = 3  # columns in a row that may look otherwise
FEWEST_COLUMNS = 20
NARROWEST_CM, WIDEST_CM = 12.0, 45.0  # by the sticks' scale, roughly
EDGE_PX = 6.0
MOST_OUT = 2  # places further up or down than in the column before
TALLER = 1.1  # than in the middle: no column is
AS_LEVEL_DEG = 2.0
ALIKE = 0.85  # of the widest: the same pad by another of its colours
FITTED_WITHIN, ROUNDS = 0.92, 3  # of half the width from the middle
MOST_OFF, MOST_FIT = 2.0, 0.75  # places from an ellipse's edge; share of the columns that are nearer
BEYOND = (1.0, 1.15, 1.3, 1.5, 1.75, 2.0)  # times what is seen of a pad that is cut off: how wide it may be
MOST_OPEN = 0.6  # a pad seen from higher than 37 degrees is no pad seen from the side
LEAST_SKEW_DEG, LEAST_FROM_ABOVE = 2.5, 0.17  # from which a slope may be perspective's
SHORTEST_FOCAL, LONGEST_FOCAL = 0.5, 1.0  # of the picture's width: phones' lenses (common practice)
USUAL_DISTANCE_CM, USUAL_TOP_CM = 170.0, 15.0  # of the camera; of the tips' tops


@dataclass(frozen=True, slots=True)
class Pad:
    """The pad as it is seen.

    ``tilt_deg`` is over 0 where its right side hangs. ``open_share`` is the height of its round top over its
    width: the sine of the angle that it is seen from above; None where its edge does not bulge.
    """

    left_px: float
    right_px: float
    top_px: float
    bottom_px: float
    tilt_deg: float
    cut_off: bool
    open_share: float | None

    @property
    def width_px(self) -> float:
        """Its widest extent."""
        return self.right_px - self.left_px

    @property
    def box_px(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom."""
        return self.left_px, self.top_px, self.right_px, self.bottom_px

    @property
    def upright_share(self) -> float:
        """How high a cm over the pad is seen, of what a cm across it is.

        From above at an angle e a height is seen cos(e) as high, and larger as it comes nearer.
        """
        sine = min(self.open_share or 0.0, MOST_OPEN)
        return math.sqrt(1 - sine * sine) * (1 + USUAL_TOP_CM * sine / USUAL_DISTANCE_CM)

    def near_cm(self, picture_px: float, px_per_cm: float) -> float | None:
        """Return how far off the camera is, if it is so near that a level pad is seen to slope; else None.

        A level pad beside the middle of the picture slopes by the tangent of the angle that it is seen from
        above, times how far beside over the focal length. A camera tilted by as much looks the same.
        """
        above = min(self.open_share or 0.0, MOST_OPEN)
        if self.cut_off or abs(self.tilt_deg) < LEAST_SKEW_DEG or above < LEAST_FROM_ABOVE:
            return None
        beside_px = (self.left_px + self.right_px - picture_px) / 2
        slope = above / math.sqrt(1 - above * above)
        focal_px = beside_px * slope / math.tan(math.radians(self.tilt_deg))
        if not SHORTEST_FOCAL * picture_px < focal_px < LONGEST_FOCAL * picture_px:
            return None
        return focal_px / px_per_cm


def find_pad(
    y: Plane, u: Plane, v: Plane, lands_px: tuple[float, float], px_per_cm: float, grid_px: float
) -> Pad | None:
    """Find the pad under a landing; None where nothing pad-like lies there.

    Its top and its side are as wide as each other, so that of the colours under it the lowest is taken that
    is about as wide as the widest: what stands behind the pad seldom touches its side.

    Parameters
    ----------
    y, u, v : the still picture, shape (rows, columns)
    lands_px : where a stick lands, x and y
    px_per_cm : the sticks' scale, roughly
    """
    scale = px_per_cm / grid_px
    x0, seed = int(lands_px[0] / grid_px), max(round(SEED_CM * scale), 2)
    found = []
    for under_cm in UNDER_CM:
        y0 = int(lands_px[1] / grid_px + under_cm * scale)
        if not (seed <= x0 < y.shape[1] - seed and seed <= y0 < y.shape[0] - seed):
            continue
        like = _like(y, u, v, slice(y0 - seed // 2, y0 + seed // 2 + 1), slice(x0 - seed, x0 + seed + 1))
        edges = _edges(like, x0, y0)
        pad = _pad(edges, y.shape[1], grid_px) if len(edges) > FEWEST_COLUMNS else None
        if pad is not None and NARROWEST_CM * px_per_cm < pad.width_px < WIDEST_CM * px_per_cm:
            found.append(pad)
    return _chosen(found)


def _chosen(found: Sequence[Pad]) -> Pad | None:
    """Choose among what was found by each colour under a landing, the highest first; None if none is round.

    What reaches beyond the pad is seldom as level as the pad itself.
    """
    whole = [pad for pad in found if not pad.cut_off] or found
    level = min((abs(pad.tilt_deg) for pad in whole), default=0.0)
    level_ones = [pad for pad in whole if abs(pad.tilt_deg) < level + AS_LEVEL_DEG]
    widest = max((pad.width_px for pad in level_ones), default=0.0)
    alike = [pad for pad in level_ones if pad.width_px > ALIKE * widest]
    if not alike:
        return None
    return replace(alike[-1], open_share=next((pad.open_share for pad in alike if pad.open_share), None))


def _like(y: Plane, u: Plane, v: Plane, rows: slice, columns: slice) -> Bools:
    """Tell where the picture looks like the part of it that is given."""
    out = np.ones(y.shape, dtype=np.bool_)
    for plane, most in ((y, UNLIKE_LUMA), (u, UNLIKE_CHROMA), (v, UNLIKE_CHROMA)):
        out &= np.abs(plane - median(plane[rows, columns].astype(np.float64).ravel())) < most
    return out


def _edges(like: Bools, x0: int, y0: int) -> Floats:
    """Return column, first and last row of each column's stretch, from x0 to both sides; shape (n, 3)."""
    column = like[:, x0 - GAP : x0 + GAP + 1].mean(axis=1) > 0.5
    if not column[y0]:
        return np.zeros((0, 3))
    above, below = np.flatnonzero(~column[:y0]), np.flatnonzero(~column[y0:])
    middle = (int(above[-1]) + 1 if above.size else 0, y0 + int(below[0]) - 1 if below.size else y0)
    right = list(_follow(like, range(x0, like.shape[1]), middle))
    left = list(_follow(like, range(x0 - 1, -1, -1), middle))
    return np.array([*left[::-1], *right], dtype=np.float64).reshape(-1, 3)


def _follow(like: Bools, columns: range, ends: tuple[int, int]) -> Iterator[tuple[int, int, int]]:
    """Follow a stretch from column to column: it may shrink, or grow a little."""
    tallest, missed = TALLER * (ends[1] - ends[0] + 1), 0
    for column in columns:
        first = max(ends[0] - MOST_OUT, 0)
        there = np.flatnonzero(like[first : ends[1] + MOST_OUT + 1, column])
        if not there.size:
            missed += 1
            if missed == GAP:
                return
            continue
        missed = 0
        last = first + int(there[-1])
        ends = (max(first + int(there[0]), math.ceil(last - tallest + 1)), last)
        yield column, *ends


def _pad(edges: Floats, columns: int, grid_px: float) -> Pad | None:
    """Read the pad from its columns' edges; None where its lower edge is not round.

    A pad that is cut off goes on beyond the picture: the width at which its edge is roundest is taken.
    """
    left, right = float(edges[0, 0]), float(edges[-1, 0])
    cut = left * grid_px < EDGE_PX, (columns - right) * grid_px < EDGE_PX
    wides = (right - left) * np.array(BEYOND if cut[0] != cut[1] else BEYOND[:1])
    at = [edges[:, 0] - (right - wide if cut[0] else left) for wide in wides]
    fits = [_lower_edge(each, edges[:, 2], wide) for each, wide in zip(at, wides, strict=True)]
    best = max(range(len(fits)), key=lambda i: fits[i][2])
    slope, depth, fit = fits[best]
    if fit < MOST_FIT:
        return None
    return Pad(
        grid_px * left,
        grid_px * (right + 1),
        grid_px * float(edges[:, 1].min()),
        grid_px * (float(edges[:, 2].max()) + 1),
        math.degrees(math.atan(slope)),
        any(cut),
        min(2 * depth / float(wides[best]), 1.0) if depth > 0 else None,
    )


def _lower_edge(at: Floats, lower: Floats, wide: float) -> tuple[float, float, float]:
    """Return the slope and the depth of half an ellipse at a lower edge, and which share of the edge it fits.

    Its edge at x of half its width from the middle is sqrt(1 - x^2) of its depth below its middle line, which
    the camera's tilt makes slope. Columns that something hides are left out.

    Parameters
    ----------
    at, lower : shape (n_columns,), place from the left end, and the lower edge there
    """
    off = 2 * at / wide - 1
    inner = np.abs(off) < FITTED_WITHIN
    rows = np.stack([np.ones_like(at), at, np.sqrt(1 - np.minimum(off * off, 1.0))], axis=1)
    kept = inner
    for _ in range(ROUNDS):
        fit = np.linalg.lstsq(rows[kept], lower[kept], rcond=None)[0]
        kept = inner & (np.abs(lower - rows @ fit) < MOST_OFF)
        share = int(np.count_nonzero(kept)) / max(int(np.count_nonzero(inner)), 1)
        if share < MOST_FIT:
            break
    return float(fit[1]), float(fit[2]), share
