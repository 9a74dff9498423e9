"""Join the patches of one colour over the frames: the stick's band or bands, where each was.

Of all ways through the patches the likeliest is taken (Viterbi 1967, IEEE Trans. Inf. Theory 13:260-269): a
patch is likely by its size, a step by its length. A frame in which nothing fits is passed over. Two bands of
one colour are one node, a pair that lies as far apart as the two do usually.

Conventions: places are px, y downwards; arrays have shape (n_frames,), NaN where nothing was seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenhand.arrays import Floats, Ints, median, robust_sd
from evenhand.film import Blobs, SeenFilm

SMALLEST = 0.12  # of the usual patch
PAIRED = 0.35  # of the larger band: a second one
TWO_BANDS = 0.6  # of the frames that show two
NEAREST, FURTHEST = 0.45, 1.25  # two bands' distance, of the usual
MOST_PAIRED = 5  # patches of a frame that are tried as pairs
STEP_PX_S = 2500.0  # a step at this speed costs 1
SIZE_COST, PASSED_COST, MOST_STEP = 1.0, 2.0, 6.0
LOOKS_BACK = 8  # nodes' frames before


@dataclass(frozen=True, slots=True, eq=False)
class BandTrack:
    """One stick's bands. ``x``, ``y`` are the one nearer to the tip, ``back_x``, ``back_y`` the other."""

    times_s: Floats
    x: Floats
    y: Floats
    back_x: Floats
    back_y: Floats
    bands: int

    @property
    def seen(self) -> float:
        """The share of the frames in which it was seen."""
        return float(np.mean(np.isfinite(self.y))) if self.y.size else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Nodes:
    """What may be the stick, in order of frames: places, shape (n_nodes, 2 or 4), and costs."""

    frame: Ints
    place: Floats
    cost: Floats


def follow(film: SeenFilm, colours: int) -> list[BandTrack]:
    """Follow each colour through a film; all sticks point to the side where more goes up and down."""
    found = [_patches(film.blobs, colour) for colour in range(colours)]
    left = sum(each.left for each in found) > 0
    return [_followed(film, each, left=left) for each in found]


@dataclass(frozen=True, slots=True, eq=False)
class _Patches:
    """One colour's patches by frame, pairs of them, and how much speaks for the left as the front."""

    own: Blobs
    frames: list[slice]
    pairs: tuple[Ints, Ints] | None  # left and right
    left: float


def _patches(blobs: Blobs, colour: int) -> _Patches:
    own = blobs.only(blobs.colour == colour)
    own = own.only(own.mass > SMALLEST * _usual_mass(own)) if len(own) else own
    frames = _by_frame(own)
    if not _shows_two(own, frames):
        return _Patches(own, frames, None, 0.0)
    left, right = _two_bands(own, frames)
    return _Patches(own, frames, (left, right), _livelier(own.y[left], own.y[right]))


def _followed(film: SeenFilm, each: _Patches, *, left: bool) -> BandTrack:
    bands = 1 if each.pairs is None else 2
    nodes = _singles(each.own) if each.pairs is None else _pairs(each.own, *each.pairs[:: 1 if left else -1])
    return _track(film.times_s, nodes, _likeliest(nodes, film.times_s), bands)


def _usual_mass(own: Blobs) -> float:
    largest = np.zeros(int(own.frame.max()) + 1)
    np.maximum.at(largest, own.frame, own.mass)
    return median(largest[largest > 0])


def _by_frame(own: Blobs) -> list[slice]:
    """Return where each frame's patches stand."""
    cuts = np.flatnonzero(np.diff(own.frame)) + 1
    edges = [0, *cuts.tolist(), len(own)] if len(own) else [0]
    return [slice(a, b) for a, b in pairwise(edges)]


def _shows_two(own: Blobs, frames: Sequence[slice]) -> bool:
    """Tell whether most frames show two bands of this colour, their places steady to each other."""
    two = sum(int(np.count_nonzero(own.mass[at] > PAIRED * own.mass[at].max()) >= 2) for at in frames)
    return len(frames) > 0 and two > TWO_BANDS * len(frames)


def _singles(own: Blobs) -> _Nodes:
    usual = _usual_mass(own) if len(own) else 1.0
    place = np.stack([own.x, own.y], axis=1)
    return _Nodes(own.frame, place, SIZE_COST * np.abs(np.log(own.mass / usual)))


def _two_bands(own: Blobs, frames: Sequence[slice]) -> tuple[Ints, Ints]:
    """Return patches of a frame that lie as far apart as the bands do, the left ones and the right."""
    pairs = [
        (at.start + i, at.start + j)
        for at in frames
        for i, j in _two_of(min(at.stop - at.start, MOST_PAIRED))
    ]
    one, other = (np.array(each, dtype=np.int64) for each in zip(*pairs, strict=True))
    first = np.unique(own.frame[one], return_index=True)[1]
    apart = np.hypot(own.x[one] - own.x[other], own.y[one] - own.y[other])
    usual = median(apart[first])
    fits = (apart > NEAREST * usual) & (apart < FURTHEST * usual)
    one, other = one[fits], other[fits]
    leftward = own.x[one] < own.x[other]
    return np.where(leftward, one, other), np.where(leftward, other, one)


def _pairs(own: Blobs, front: Ints, back: Ints) -> _Nodes:
    """Make a node of each pair, as likely as its two are alike and as far apart as usual."""
    apart = np.hypot(own.x[front] - own.x[back], own.y[front] - own.y[back])
    sizes = np.abs(np.log(own.mass[front] / own.mass[back])) / 2 + 4 * np.abs(np.log(apart / median(apart)))
    place = np.stack([own.x[front], own.y[front], own.x[back], own.y[back]], axis=1)
    lost = np.log(_usual_mass(own) / np.maximum(own.mass[front], own.mass[back]))
    return _Nodes(own.frame[front], place, SIZE_COST * (sizes + np.abs(lost)))


def _two_of(n: int) -> list[tuple[int, int]]:
    return [(i, j) for i in range(n) for j in range(i + 1, n)]


def _livelier(left_y: Floats, right_y: Floats) -> float:
    """Return how many px more the left of two bands goes up and down than the right."""
    return robust_sd(left_y - median(left_y)) - robust_sd(right_y - median(right_y))


def _likeliest(nodes: _Nodes, times_s: Floats) -> list[int]:
    """Return the nodes of the likeliest way, in order of time."""
    if not nodes.frame.size:
        return []
    cuts = [0, *(np.flatnonzero(np.diff(nodes.frame)) + 1).tolist(), nodes.frame.size]
    best = nodes.cost.copy()
    came = np.full(nodes.frame.size, -1)
    for k in range(1, len(cuts) - 1):
        here = slice(cuts[k], cuts[k + 1])
        before = slice(cuts[max(k - LOOKS_BACK, 0)], cuts[k])
        cost = best[before][:, None] + _steps(nodes, times_s, before, here)
        came[here] = before.start + cost.argmin(axis=0)
        best[here] += cost.min(axis=0)
    way = [cuts[-2] + int(best[cuts[-2] :].argmin())]
    while came[way[-1]] >= 0:
        way.append(int(came[way[-1]]))
    return way[::-1]


def _steps(nodes: _Nodes, times_s: Floats, before: slice, here: slice) -> Floats:
    """Return what each step costs, shape (n_before, n_here): its speed, and the frames it passes over."""
    frame = nodes.frame[before]
    seconds = np.maximum(times_s[nodes.frame[here.start]] - times_s[frame], 1e-4)
    away = nodes.place[before][:, None, :] - nodes.place[here][None, :, :]
    far = np.sqrt((away**2).sum(axis=2))
    speed = np.minimum(far / (seconds[:, None] * STEP_PX_S), MOST_STEP)
    passed = PASSED_COST * (_back(frame) - 1)
    return np.asarray(speed + passed[:, None])


def _back(frame: Ints) -> Floats:
    """Return how many frames back each node is, of those that show something."""
    distinct = np.unique(frame)
    return np.asarray(distinct.size - np.searchsorted(distinct, frame), dtype=np.float64)


def _track(times_s: Floats, nodes: _Nodes, way: list[int], bands: int) -> BandTrack:
    """Lay a way out over all frames."""
    places = np.full((4, times_s.size), np.nan)
    places[: 2 * bands, nodes.frame[way]] = nodes.place[way].T
    x, y, back_x, back_y = places
    return BandTrack(times_s, x, y, back_x, back_y, bands)
