"""What stands in the picture: a wall with things before it, the pad, two hands with their sticks.

Conventions: as in ``camera``; radii in cm. What moves is laid down anew for every
moment, the farther hand first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.filming.camera import Camera
from benchmarks.filming.case import FilmCase
from benchmarks.filming.colours import (
    PAD_SIDE,
    PADS,
    SHIRT,
    SLEEVES,
    STEEL,
    TAPES,
    THINGS,
    WALLS,
    WOOD,
    Light,
    cast,
    light_of,
    skin,
)
from benchmarks.filming.drawing import hull, shape
from benchmarks.filming.playing import Motion
from evenhand.music.exercise import HANDS, Hand

Floats = NDArray[np.float64]

AIM_CM = 3.5  # how far from the middle of the pad a tip meets it, to its hand's side
BUTT_CM, TIP_CM, BEAD_CM = 0.72, 0.42, 0.55  # radii; a common stick is 0.565 in across
TAPE_CM = 0.06  # how much thicker a stick is with tape
PAD_HIGH_CM, ELBOW_CM = 3.5, 62.0
CORNERS = 48


@dataclass(frozen=True)
class Piece:
    """A strip, or a disc where both ends are one: two places of the list of points, two radii, a colour.

    What is ``slow`` is drawn once a frame.
    """

    ends: tuple[int, int]
    radii_cm: tuple[float, float]
    colour: Light
    slow: bool = False


@dataclass(frozen=True)
class Holder:
    """One hand's moving pieces, and how they hang on its stick.

    ``along`` and ``over`` place each point by the fulcrum: so far towards the tip, so far up from the stick.
    The elbow, the last point, stays where it is. ``inward`` is how far the stick points inward, radians.
    """

    hand: Hand
    motion: Motion
    pieces: tuple[Piece, ...]
    along: Floats
    over: Floats
    inward: float

    def places(self, times_s: Floats) -> Floats:
        """Return where each point is at its own time, shape (n_points, 3).

        Parameters
        ----------
        times_s
            Shape (n_points,): a rolling shutter sees each point at another.
        """
        angle, x, z = self.motion.at(times_s)
        side = -1.0 if self.hand == "R" else 1.0
        toward = np.array([math.cos(self.inward), -side * math.sin(self.inward)])
        ahead = self.along * np.cos(angle) - self.over * np.sin(angle)
        up = z + self.along * np.sin(angle) + self.over * np.cos(angle)
        reach = self.motion.stick.reach_cm
        plan = np.array([0.0, side * AIM_CM]) + (x + ahead - reach)[:, None] * toward
        out = np.column_stack([plan, up + TIP_CM])
        out[-1] = [*(np.array([0.0, side * AIM_CM]) - (reach + ELBOW_CM) * toward), 2.0]
        return out


def holder(case: FilmCase, hand: Hand, motion: Motion, sleeve: Light) -> Holder:
    """Dress one hand: stick, bands of tape, fist, arm."""
    stick = motion.stick
    along, over, pieces = [-stick.held_cm, stick.reach_cm], [0.0, 0.0], []

    def put(
        a: tuple[float, float], b: tuple[float, float], radii: tuple[float, float], colour: Light
    ) -> None:
        along.extend((a[0], b[0]))
        over.extend((a[1], b[1]))
        pieces.append(Piece((len(along) - 2, len(along) - 1), radii, colour))

    wood, flesh = light_of(WOOD), skin(case.skin)
    tip = stick.reach_cm
    put((-stick.held_cm, 0), (tip - 8, 0), (BUTT_CM, BUTT_CM), wood)
    put((tip - 8, 0), (tip, 0), (BUTT_CM, TIP_CM), wood)
    put((tip - 0.4, 0), (tip - 0.4, 0), (BEAD_CM, BEAD_CM), wood)
    for begin, end in _bands(case, hand):
        radii = (_radius(end) + TAPE_CM, _radius(begin) + TAPE_CM)
        put((tip - end, 0), (tip - begin, 0), radii, light_of(TAPES[case.tapes[hand]]))
    put((-6.5, -0.8), (-6.5, -0.8), (3.6, 3.6), flesh)
    put((-6.5, -0.8), (-0.5, -0.8), (3.6, 3.0), flesh)
    put((-0.5, -0.8), (-0.5, -0.8), (3.0, 3.0), flesh)
    put((-5.0, 1.2), (2.6, 0.6), (1.2, 0.9), flesh * np.float32(1.06))
    put((2.6, 0.6), (2.6, 0.6), (0.9, 0.9), flesh * np.float32(1.06))
    wrist = (-10.0, -0.5)
    put(wrist, (-40.0, 0.0), (2.9, 5.4), sleeve if case.sleeves else flesh)
    put((-7.0, -0.8), (-11.0, -0.5), (3.2, 2.8), flesh)
    first, last = pieces[-2], len(along) - 1
    along.append(along[first.ends[1]])
    over.append(0.0)
    pieces[-2] = Piece((first.ends[0], last + 1), first.radii_cm, first.colour, slow=True)
    inward = math.radians(case.inward_deg[hand])
    return Holder(hand, motion, tuple(pieces), np.array(along), np.array(over), inward)


def _bands(case: FilmCase, hand: Hand) -> list[tuple[float, float]]:
    """Return where a stick's bands begin and end, cm from its tip, as well as somebody put them there."""
    if hand not in case.tapes:
        return []
    rng = np.random.default_rng([case.seed, 8, HANDS.index(hand)])
    begins = [case.first_band_cm + case.between_cm * band for band in range(case.bands)]
    put = [max(begin + case.band_sd_cm * float(rng.normal()), 0.5) for begin in begins]
    return [(begin, begin + case.band_cm) for begin in put]


def _radius(off_cm: float) -> float:
    """Return a stick's radius so far from its tip."""
    return TIP_CM + (BUTT_CM - TIP_CM) * min(off_cm / 8, 1.0)


def holders(case: FilmCase, motions: Mapping[Hand, Motion]) -> list[Holder]:
    """Return both hands, the farther one first."""
    rng = np.random.default_rng([case.seed, 2])
    sleeve = light_of(SLEEVES[int(rng.integers(len(SLEEVES)))])
    out = [holder(case, hand, motions[hand], sleeve) for hand in HANDS]
    return out if case.view.side == "L" else out[::-1]


def pad_outline(case: FilmCase) -> tuple[Floats, Floats]:
    """Return the pad's upper rim and its lower one, each of shape (CORNERS, 3)."""
    turn = 2 * np.pi * np.arange(CORNERS) / CORNERS
    rim = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(CORNERS)]) * case.pad_cm / 2
    return rim, rim - np.array([0, 0, PAD_HIGH_CM])


def backdrop(case: FilmCase, camera: Camera) -> Light:
    """Draw what stands still, shape (height, width, 3)."""
    rng = np.random.default_rng([case.seed, 3])
    width, height = case.size
    picture = _wall(rng, height, width)
    for i in range(case.clutter):
        _thing(picture, camera, rng, light_of(THINGS[int(rng.integers(len(THINGS)))]), i)
    for colour in case.backdrop:
        _thing(picture, camera, rng, light_of(TAPES[colour]), None)
    picture = np.asarray(picture * lit(case), np.float32)
    pad_on(picture, case, camera)
    return picture


def lit(case: FilmCase) -> Light:
    """Return how much of each colour's light there is, shape (3,)."""
    return np.asarray(np.float32(case.light) * cast(case.warmth), np.float32)


def passer(picture: Light, case: FilmCase, camera: Camera, time_s: float) -> None:
    """Let somebody in a dull shirt walk to and fro behind the player."""
    x = 90 * math.sin(2 * math.pi * time_s / 7) - 10
    far = -math.copysign(90, float(camera.place[1]))
    body = [(x - 16, -60.0), (x + 16, -60.0), (x + 18, 30.0), (x - 18, 30.0)]
    shape(picture, camera.picture(np.array([(a, far, b) for a, b in body]))[0], lit(case) * light_of(SHIRT))


def _wall(rng: np.random.Generator, height: int, width: int) -> Light:
    """Draw a wall, lit from one side, a little blotchy."""
    wall = light_of(WALLS[int(rng.integers(len(WALLS)))])
    coarse = rng.normal(0, 0.04, (9, 12))
    y, x = np.linspace(0, 7.999, height), np.linspace(0, 10.999, width)
    i, j = y.astype(int), x.astype(int)
    fy, fx = (y - i)[:, None], x - j
    rows = (1 - fy) * coarse[i] + fy * coarse[i + 1]
    blotch = (1 - fx) * rows[:, j] + fx * rows[:, j + 1]
    lit = 0.85 + 0.25 * np.linspace(0, 1, width) * rng.uniform(-1, 1) + blotch
    fine = 1 + rng.normal(0, 0.012, (height, width))
    return np.asarray((lit * fine)[..., None] * wall, np.float32)


def _thing(picture: Light, camera: Camera, rng: np.random.Generator, colour: Light, turn: int | None) -> None:
    """Put a box or a round thing before the wall; a small one of a tape's colour behind the sticks."""
    far = -camera.place[1] / abs(camera.place[1]) * rng.uniform(60, 160)
    small = turn is None
    x, z = (
        (rng.uniform(-30, 25), rng.uniform(0, 32)) if small else (rng.uniform(-110, 80), rng.uniform(-60, 60))
    )
    wide, high = rng.uniform(4, 12, 2) if small else rng.uniform(8, 45, 2)
    if rng.uniform() < 0.3:
        at = 2 * np.pi * np.arange(24) / 24
        flat = np.column_stack([x + wide / 2 * np.cos(at), np.full(24, far), z + wide / 2 * np.sin(at)])
    else:
        corners = [(x, z), (x + wide, z), (x + wide, z + high), (x, z + high)]
        flat = np.array([(a, far, b) for a, b in corners])
    shape(picture, camera.picture(flat)[0], colour)


def pad_on(picture: Light, case: FilmCase, camera: Camera) -> None:
    """Draw the pad on its stand, in the case's light, if there is one."""
    if case.pad == "none":
        return
    upper, lower = pad_outline(case)
    corners = ((-1.6, -90), (1.6, -90), (1.6, -PAD_HIGH_CM), (-1.6, -PAD_HIGH_CM))
    foot = np.array([(a, 0.0, b) for a, b in corners])
    shape(picture, camera.picture(foot)[0], lit(case) * light_of(STEEL))
    shape(picture, hull(camera.picture(np.concatenate([upper, lower]))[0]), lit(case) * light_of(PAD_SIDE))
    shape(picture, hull(camera.picture(upper)[0]), lit(case) * light_of(PADS[case.pad]))
