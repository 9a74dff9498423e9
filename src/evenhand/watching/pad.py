"""Find the pad in the still picture under where the sticks land: how wide it is, and whether level and whole.

From the point where a stick lands each row is followed to both sides as long as it looks like the pad. A
round pad is widest at its middle, whatever the height that it is seen from.

Conventions: px of the picture as shown; planes lie on the grid, shape (rows, columns).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Floats, Singles, median
from evenhand.film import Plane

UNDER_CM = (0.5, 1.0, 1.6, 2.3, 3.0)  # the colour of the pad is taken so far under a landing, in turn
SEED_CM = 0.6  # over so much
UNLIKE_LUMA, UNLIKE_CHROMA = 16.0, 10.0
GAP = 3  # places in a row that may look otherwise
REACH_SHARE = 0.2  # of the picture's height: rows above and below a landing that are followed
NARROWEST_CM, WIDEST_CM = 12.0, 45.0  # by the sticks' scale, roughly
EDGE_PX = 6.0
ALIKE = 0.96  # of the widest: the same pad by another of its colours
MOST_OUT = 3  # places further out than in the row before
NARROWED = (0.35, 0.96)  # of the width: rows in which a round pad's edge can be told


@dataclass(frozen=True, slots=True)
class Pad:
    """The pad as it is seen.

    ``tilt_deg`` is over 0 where its right side hangs. ``open_share`` is the height of its round top over its
    width: the sine of the angle that it is seen from above; None where that cannot be told.
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


def find_pad(
    y: Plane, u: Floats, v: Floats, lands_px: tuple[float, float], px_per_cm: float, grid_px: float
) -> Pad | None:
    """Find the pad under a landing; None where nothing pad-like lies there.

    Its top and its side are as wide as each other, so that of the colours under the landing the one that
    reaches furthest, and not beyond the picture, is taken.

    Parameters
    ----------
    y, u, v : the still picture, shape (rows, columns)
    lands_px : where a stick lands, x and y
    px_per_cm : the sticks' scale, roughly
    """
    scale = px_per_cm / grid_px
    x0, seed = int(lands_px[0] / grid_px), max(round(SEED_CM * scale), 2)
    reach = int(REACH_SHARE * y.shape[0])
    found = []
    for under_cm in UNDER_CM:
        y0 = int(lands_px[1] / grid_px + under_cm * scale)
        if not (seed <= x0 < y.shape[1] - seed and seed <= y0 < y.shape[0] - seed):
            continue
        like = _like(y, u, v, slice(y0 - seed // 2, y0 + seed // 2 + 1), slice(x0 - seed, x0 + seed + 1))
        edges = _edges(like, x0, range(max(y0 - reach, 0), min(y0 + reach, y.shape[0])), y0)
        pad = _pad(edges, y.shape[1], grid_px) if len(edges) > 2 else None
        if pad is not None and NARROWEST_CM * px_per_cm < pad.width_px < WIDEST_CM * px_per_cm:
            found.append(pad)
    whole = [pad for pad in found if not pad.cut_off] or found
    if not whole:
        return None
    widest = max(whole, key=lambda pad: pad.width_px)
    alike = (pad.open_share for pad in whole if pad.width_px > ALIKE * widest.width_px)
    return replace(widest, open_share=next((share for share in alike if share is not None), None))


def _like(y: Plane, u: Floats, v: Floats, rows: slice, columns: slice) -> Singles:
    """Tell where the picture looks like the part of it that is given, smoothed along rows: 0 to 1."""
    away = np.abs(y - median(y[rows, columns].astype(np.float64).ravel())) < UNLIKE_LUMA
    for plane in (u, v):
        away &= np.abs(plane - median(plane[rows, columns].ravel())) < UNLIKE_CHROMA
    return np.asarray(away, dtype=np.float32)


def _edges(like: Singles, x0: int, rows: range, y0: int) -> Floats:
    """Return row, first and last column of each row's stretch about x0, shape (n, 3)."""
    found: list[tuple[int, int, int]] = []
    for way in (range(y0, rows.stop), range(y0 - 1, rows.start - 1, -1)):
        near: tuple[int, int] | None = None
        for row in way:
            ends = _stretch(like[row], x0)
            if ends is None or (near is not None and _jumps_out(near, ends)):
                break
            near = ends
            found.append((row, *ends))
    return np.array(sorted(found), dtype=np.float64).reshape(-1, 3)


def _jumps_out(near: tuple[int, int], ends: tuple[int, int]) -> bool:
    """Tell whether a row's stretch reaches out of a round shape: into what looks alike behind it."""
    return near[0] - ends[0] > MOST_OUT or ends[1] - near[1] > MOST_OUT


def _stretch(row: Singles, x0: int) -> tuple[int, int] | None:
    """Follow a row to both sides of a column, over gaps of a few places."""
    if row[x0 - GAP : x0 + GAP + 1].mean() < 0.5:
        return None
    unlike = np.convolve(row, np.ones(GAP, dtype=np.float32), mode="valid") == 0
    before, after = np.flatnonzero(unlike[: max(x0 - GAP + 1, 0)]), np.flatnonzero(unlike[x0:])
    return (int(before[-1]) + GAP if before.size else 0), (
        x0 + int(after[0]) - 1 if after.size else row.size - 1
    )


def _pad(edges: Floats, columns: int, grid_px: float) -> Pad:
    """Read the pad from its rows' edges."""
    widths = edges[:, 2] - edges[:, 1] + 1
    wide = float(np.quantile(widths, 0.9))
    left, right = (float(np.quantile(edges[:, k], q)) for k, q in ((1, 0.1), (2, 0.9)))
    cut_off = left * grid_px < EDGE_PX or (columns - right) * grid_px < EDGE_PX
    rows = edges[widths > 0.5 * wide, 0]
    return Pad(
        grid_px * left,
        grid_px * (right + 1),
        grid_px * float(rows.min()),
        grid_px * (float(rows.max()) + 1),
        _slant(edges),
        cut_off,
        _open_share(edges[:, 0], widths, wide),
    )


def _slant(edges: Floats) -> float:
    """Return how far a shape's long axis hangs to the right, degrees, by its second moments."""
    rows, first, last = edges.T
    mass = last - first + 1
    x, y = (first + last) / 2, rows - float(mass @ rows) / float(mass.sum())
    x = x - float(mass @ x) / float(mass.sum())
    xx, xy, yy = float(mass @ (x * x + mass * mass / 12)), float(mass @ (x * y)), float(mass @ (y * y))
    return float(np.degrees(np.arctan2(2 * xy, xx - yy))) / 2


def _open_share(rows: Floats, widths: Floats, wide: float) -> float | None:
    """Return the height over the width of a round top by its upper edge; None where too little of it is seen.

    An ellipse's half width at y over its middle is that of the middle times sqrt(1 - (y / b)^2), so that
    sqrt(1 - share^2) is a straight line in y, its slope 1 / b.
    """
    share = widths / wide
    upper = (rows < rows[widths.argmax()]) & (share > NARROWED[0]) & (share < NARROWED[1])
    if np.count_nonzero(upper) < 3:
        return None
    slope = float(np.polyfit(rows[upper], np.sqrt(1 - share[upper] ** 2), 1)[0])
    return min(-2 / (slope * wide), 1.0) if slope < 0 else None
