"""Find the tapes' colours in some of a film's frames, and make the look-up that finds them in all.

A tape is what moves and is coloured. Where it moves fast its colour is mixed with what lies behind, so that
it gets paler, not another hue: a look-up takes in the whole wedge from grey to the tape. Skin moves, too:
near its hue only what is clearly stronger than skin counts. What lies still in the tape's colour is the
background's.

Conventions: chroma is U and V less 128; its hue is the angle from U to V, degrees; strength its length.
Frames are of shape (rows, columns); a stack of them (n_frames, rows, columns).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import Bools, Floats
from evenhand.film import NEUTRAL, Colours, FilmSample, Plane, SampledFrame
from evenhand.music.exercise import Hand

# Hue of common tapes' colours by ITU-R BT.601 chroma of their usual paints.
HUES_DEG: Mapping[str, float] = {
    "blue": -15.0,
    "purple": 30.0,
    "pink": 75.0,
    "red": 107.0,
    "orange": 140.0,
    "yellow": 175.0,
    "green": -140.0,
    "turquoise": -60.0,
}
NEAR_DEG = 30.0  # a named colour may be so far from its usual hue
SKIN_HUE_DEG, SKIN_REACH_DEG, SKIN_STRENGTH = 135.0, 32.0, 45.0  # of skin and of wood: common practice
MOVED, COLOURED = 14.0, 16.0  # from the background; from grey: beyond, a pixel moves and has a colour
FEWEST_PIXELS = 8.0  # in a frame, on the average
LARGEST_SHARE = 0.02  # of a picture: more is clothing
PALEST = (0.14, 0.2, 0.3)  # of a tape's strength, where it is blurred; as much as clothes and skin allow
MOST_PALER = 2.5  # times as many places as the palest of these finds
WIDEST_DEG = 22.0  # to either side of its hue
LEAST_APART_DEG = 40.0  # of two tapes
LEAST_OF_STRONGEST = 0.45  # of the strongest colour's strength
NEARLY_ALL = 0.85  # of the frames: what is there in so many lies still
LEAST_STRENGTH, LEAST_AWAY = 20.0, 7.0  # of a tape; of a patch, from the background


@dataclass(frozen=True, slots=True)
class Tape:
    """One tape's colour: ``strength`` is where it is seen full. ``name`` is the nearest common colour."""

    name: str
    hue_deg: float
    strength: float


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """The still picture behind all that moves, and the chroma of what moves, shape (n_pixels,)."""

    y: Plane
    u: Plane
    v: Plane
    hue_deg: Floats
    strength: Floats
    n_frames: int
    n_pixels: int  # of a frame


def background(planes: Sequence[Plane]) -> Plane:
    """Return what most frames show at each place.

    Parameters
    ----------
    planes : each of shape (rows, columns)

    Returns
    -------
    shape (rows, columns)
    """
    stack = np.stack(planes)
    middle = len(planes) // 2
    return np.asarray(np.partition(stack, middle, axis=0)[middle])


def survey(sample: FilmSample, most: int = 31) -> Survey:
    """Take the still background off some frames, and gather the chroma of what moves."""
    few = sample.frames[:: -(-len(sample.frames) // most)]
    y = background([frame.y for frame in few])
    u, v = _still_chroma(few)
    moving = [_moving(frame, u, v) for frame in sample.frames]
    chroma = np.concatenate(moving, axis=1) if moving else np.zeros((2, 0))
    hue = np.degrees(np.arctan2(chroma[1], chroma[0]))
    return Survey(y, u, v, hue, np.hypot(chroma[0], chroma[1]), len(sample.frames), y.size)


def _still_chroma(frames: Sequence[SampledFrame]) -> tuple[Plane, Plane]:
    """Return the chroma of the still background.

    A tape that rests at one place most of the time is not the background's: where something coloured is
    there in most frames and not in nearly all, the greyest that is seen there is taken.
    """
    u, v = (background([getattr(frame, name) for frame in frames]) for name in "uv")
    rows, columns = np.nonzero(_colour(u, v) > COLOURED)
    own_u, own_v = (np.stack([getattr(frame, name)[rows, columns] for frame in frames]) for name in "uv")
    alike = _colour(own_u, own_v, u[rows, columns], v[rows, columns]) < MOVED
    rests = alike.mean(axis=0) < NEARLY_ALL
    greyest = _colour(own_u, own_v).argmin(axis=0)
    which = np.arange(rows.size)
    u[rows[rests], columns[rests]] = own_u[greyest, which][rests]
    v[rows[rests], columns[rests]] = own_v[greyest, which][rests]
    return u, v


def _colour(
    u: Plane, v: Plane, from_u: Plane | int = NEUTRAL, from_v: Plane | int = NEUTRAL
) -> NDArray[np.int16]:
    """Return how far chroma is from another, or from grey, shape as given."""
    return np.asarray(np.abs(u.astype(np.int16) - from_u) + np.abs(v.astype(np.int16) - from_v))


def _moving(frame: SampledFrame, u: Plane, v: Plane) -> Floats:
    """Return the chroma of what differs from the background and has a colour, shape (2, n)."""
    there = (_colour(frame.u, frame.v, u, v) > MOVED) & (_colour(frame.u, frame.v) > COLOURED)
    return np.stack([frame.u[there], frame.v[there]]).astype(np.float64) - NEUTRAL


def apart_deg(a: Floats | float, b: Floats | float) -> Floats:
    """Return how far hues lie apart, 0 to 180 degrees, shape as given.

    >>> float(apart_deg(170.0, -170.0))
    20.0
    """
    return np.asarray(np.abs((np.asarray(a) - b + 180.0) % 360.0 - 180.0))


def named_tape(seen: Survey, name: str) -> Tape | None:
    """Find the tape of a colour that was named; None where nothing of it moves."""
    return _tape_near(seen, HUES_DEG[name], NEAR_DEG, name)


def found_tapes(seen: Survey) -> tuple[Tape, ...]:
    """Find the colours that move in small patches, the most often seen first; two at most.

    What is much paler than the strongest of them is clothing.
    """
    bins = np.bincount(np.floor(seen.hue_deg[_strong(seen)] / 10).astype(np.int64) + 18, minlength=37)[:36]
    wide = bins + np.roll(bins, 1) + np.roll(bins, -1)
    tapes: list[Tape] = []
    for at in np.argsort(-wide):
        tape = _tape_near(seen, 10.0 * float(at) - 175.0, NEAR_DEG / 2, "")
        if tape is not None and all(apart_deg(tape.hue_deg, t.hue_deg) >= LEAST_APART_DEG for t in tapes):
            tapes.append(tape)
    strongest = max((tape.strength for tape in tapes), default=0.0)
    return tuple(tape for tape in tapes if tape.strength > LEAST_OF_STRONGEST * strongest)[:2]


def _strong(seen: Survey) -> Bools:
    """Tell which moving pixels are too strong to be skin."""
    skin = apart_deg(seen.hue_deg, SKIN_HUE_DEG) < SKIN_REACH_DEG
    return np.asarray(seen.strength > np.where(skin, SKIN_STRENGTH, LEAST_STRENGTH))


def _tape_near(seen: Survey, hue_deg: float, reach_deg: float, name: str) -> Tape | None:
    """Find a tape about a hue: its own hue, and its strength where it is not blurred."""
    near = _strong(seen) & (apart_deg(seen.hue_deg, hue_deg) < reach_deg)
    count = float(np.count_nonzero(near)) / max(seen.n_frames, 1)
    if not FEWEST_PIXELS <= count <= LARGEST_SHARE * seen.n_pixels:
        return None
    strength = seen.strength[near]
    full = float(np.quantile(strength, 0.8))
    away = (seen.hue_deg[near][strength > 0.7 * full] - hue_deg + 180.0) % 360.0 - 180.0
    hue = (hue_deg + float(np.median(away)) + 180.0) % 360.0 - 180.0
    return Tape(name or nearest_name(hue), hue, full)


def nearest_name(hue_deg: float) -> str:
    """Name a hue by the nearest common colour.

    >>> nearest_name(-20.0)
    'blue'
    """
    return min(HUES_DEG, key=lambda name: float(apart_deg(HUES_DEG[name], hue_deg)))


def weights_of(tape: Tape, others: Sequence[Tape] = (), palest: float = PALEST[-1]) -> Plane:
    """Make a tape's look-up: how much of it there is at each chroma less the background's.

    Returns
    -------
    shape (256, 256) by U and V, 0 to 255
    """
    u, v = np.meshgrid(np.arange(256.0) - NEUTRAL, np.arange(256.0) - NEUTRAL, indexing="ij")
    hue, strength = np.degrees(np.arctan2(v, u)), np.hypot(u, v)
    apart = apart_deg(hue, tape.hue_deg)
    share = strength * np.cos(np.radians(np.minimum(apart, 90.0))) / tape.strength
    there = (apart < WIDEST_DEG) & (share > palest) & (strength > LEAST_AWAY)
    for other in others:
        there &= apart < apart_deg(hue, other.hue_deg)
    skin = (apart_deg(hue, SKIN_HUE_DEG) < SKIN_REACH_DEG) & (strength < SKIN_STRENGTH)
    weight = np.where(there & ~skin, np.clip(share, 0.0, 1.0), 0.0)
    return np.asarray(np.round(255 * weight), dtype=np.uint8)


def sought(tapes: Mapping[Hand, Tape], sample: FilmSample, seen: Survey) -> Colours:
    """Make the look-ups of each hand's tape, apart from the other's, in the tapes' order."""
    others = [[other for other in tapes.values() if other is not tape] for tape in tapes.values()]
    weights = [_weights(tape, rest, sample, seen) for tape, rest in zip(tapes.values(), others, strict=True)]
    return Colours(tuple(weights), seen.u, seen.v)


def _weights(tape: Tape, others: Sequence[Tape], sample: FilmSample, seen: Survey) -> Plane:
    """Take in as pale a tape as can be told from what else moves: clothes of a like hue are many."""
    weights = [weights_of(tape, others, palest) for palest in PALEST]
    counts = [_count(each, sample, seen) for each in weights]
    most = MOST_PALER * max(counts[-1], FEWEST_PIXELS)
    return next(each for each, count in zip(weights, counts, strict=True) if count <= most)


def _count(weights: Plane, sample: FilmSample, seen: Survey) -> float:
    """Return how many places of a frame a look-up finds, on the average."""
    u, v = (plane - np.uint8(NEUTRAL) for plane in (seen.u, seen.v))
    return float(np.mean([np.count_nonzero(weights[frame.u - u, frame.v - v]) for frame in sample.frames]))
