"""Strips, discs and convex shapes laid onto a picture, their edges as soft as a pixel.

Conventions: a picture is linear light, float32 of shape (height, width, 3); places are (x, y) in pixels,
the first pixel's middle at (.5, .5); half-widths and radii in pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchmarks.filming.colours import Light

Floats = NDArray[np.float64]
Point = tuple[float, float]
BRIGHT, DARKER = 1.12, 0.45  # a round thing's light from its upper edge to its lower
SHINE, SHINES_AT, SHINE_WIDE = 0.07, 0.28, 0.12  # white light on it, and where


def strip(picture: Light, ends: tuple[Point, Point], halves: tuple[float, float], colour: Light) -> None:
    """Lay a strip from end to end, each end with its half-width, cut square.

    The picture's outermost rows and columns are its waste: what lies outside is written there.
    """
    (ax, ay), (bx, by) = ends
    if abs(bx - ax) < abs(by - ay):
        picture, ax, ay, bx, by = picture.transpose(1, 0, 2), ay, ax, by, bx
    wide_a, wide_b = halves
    if ax > bx:
        ax, ay, bx, by, wide_a, wide_b = bx, by, ax, ay, wide_b, wide_a
    long = math.hypot(bx - ax, by - ay)
    if long < 1e-6:
        return
    slope, lean, rise = (by - ay) / (bx - ax), (bx - ax) / long, (by - ay) / long
    round_px = abs(rise) * max(halves) + 1
    first, last = math.floor(ax - round_px), math.ceil(bx + round_px)
    column = np.arange(max(first, 0), min(last, picture.shape[1]))
    if not len(column):
        return
    at = column + 0.5 - ax
    half = (wide_a + (wide_b - wide_a) * np.clip(at / (bx - ax), 0, 1)) / lean
    top = ay + slope * at - half
    row = np.floor(top).astype(np.intp)[:, None] + np.arange(math.ceil(2 * half.max()) + 2)
    within = np.minimum(row + 1, (top + 2 * half)[:, None]) - np.maximum(row, top[:, None])
    along = lean * at[:, None] + rise * (row + 0.5 - ay)
    ended = np.clip(along + 0.5, 0, 1) * np.clip(long - along + 0.5, 0, 1)
    share = (np.clip(within, 0, 1) * ended).astype(np.float32)
    deep = np.clip((row + 0.5 - top[:, None]) / (2 * half[:, None]), 0, 1)
    lit = (BRIGHT - DARKER * deep).astype(np.float32)
    shine = (SHINE * np.exp(-(((deep - SHINES_AT) / SHINE_WIDE) ** 2))).astype(np.float32)
    row = np.clip(row, 0, len(picture) - 1)
    here = picture[row, column[:, None]]
    picture[row, column[:, None]] = here + share[..., None] * (
        lit[..., None] * colour + shine[..., None] * colour.max() - here
    )


def disc(picture: Light, middle: Point, radius: float, colour: Light) -> None:
    """Lay a disc, lit as a ball is; what lies outside the picture is left out."""
    x, y = middle
    left, right = (_within(x + off, picture.shape[1]) for off in (-radius - 1, radius + 2))
    top, bottom = (_within(y + off, picture.shape[0]) for off in (-radius - 1, radius + 2))
    across, down = np.arange(left, right) + 0.5 - x, np.arange(top, bottom) + 0.5 - y
    share = np.clip(radius + 0.5 - np.hypot(across[None, :], down[:, None]), 0, 1).astype(np.float32)
    lit = (BRIGHT - DARKER * np.clip(down / (2 * radius) + 0.5, 0, 1)).astype(np.float32)
    here = picture[top:bottom, left:right]
    here += share[..., None] * (lit[:, None, None] * colour - here)


def _within(at: float, size: int) -> int:
    return min(max(math.floor(at), 0), size)


def shape(picture: Light, corners: Sequence[Point] | Floats, colour: Light, share: float = 1.0) -> None:
    """Lay a convex shape, its corners in either turn; what lies outside the picture is left out."""
    at = np.asarray(corners, float)
    low = np.maximum(np.floor(at.min(0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + 1, picture.shape[1::-1])
    if (high <= low).any():
        return
    x = np.arange(low[0], high[0]) + 0.5
    y = (np.arange(low[1], high[1]) + 0.5)[:, None]
    edges = np.roll(at, -1, 0) - at
    turn = math.copysign(
        1.0, float((at[:, 0] * np.roll(at[:, 1], -1) - at[:, 1] * np.roll(at[:, 0], -1)).sum())
    )
    inside = np.full((len(y), len(x)), np.inf)
    for (px, py), (ex, ey) in zip(at, edges, strict=True):
        long = math.hypot(ex, ey)
        if long > 1e-9:
            inside = np.minimum(inside, turn * (ex * (y - py) - ey * (x - px)) / long)
    cover = (share * np.clip(inside + 0.5, 0, 1)).astype(np.float32)[..., None]
    here = picture[low[1] : high[1], low[0] : high[0]]
    here += cover * (colour - here)


def hull(points: Floats) -> Floats:
    """Return the convex hull of points, shape (n, 2), in a turn (Andrew's monotone chain)."""
    ordered = sorted(map(tuple, points.tolist()))

    def half(along: list[Point]) -> list[Point]:
        out: list[Point] = []
        for p in along:
            while len(out) > 1 and _turns(out[-2], out[-1], p) <= 0:
                out.pop()
            out.append(p)
        return out[:-1]

    return np.array(half(ordered) + half(ordered[::-1]))


def _turns(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
