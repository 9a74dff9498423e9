"""A rigid stick that turns about a hand: how it moves by itself, and where its centre of percussion lies.

Conventions: cm, seconds, radians from the horizontal, a rising tip over 0; a grid of time is even, its step
``step_s``. The stick is a uniform rod that turns without friction about the fulcrum, which the hand carries.

Its moment about the fulcrum gives  angle'' = -((g + z'') cos(angle) - x'' sin(angle)) / l  with l the way
from fulcrum to centre of percussion, I / (m d). Held a third of its length from the butt, l ends at the tip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
G_CM_S2 = 980.665
STEP_S = 0.0005
FULL_SPEED_CM_S, FULL_DB = 280.0, -16.0


@dataclass(frozen=True)
class Stick:
    """A uniform rod, held ``held_cm`` from its butt; a common stick is 16 in, 40.6 cm."""

    length_cm: float = 40.6
    held_cm: float = 40.6 / 3

    @property
    def reach_cm(self) -> float:
        """How far the tip is from the fulcrum."""
        return self.length_cm - self.held_cm

    @property
    def percussion_cm(self) -> float:
        """How far the centre of percussion is from the fulcrum: (L^2 / 12 + d^2) / d."""
        middle = self.length_cm / 2 - self.held_cm
        return (self.length_cm**2 / 12 + middle**2) / middle


@dataclass(frozen=True)
class Carried:
    """The fulcrum's way: along the stick and up, cm, on a grid; both of shape (n,)."""

    x: Floats
    z: Floats
    step_s: float

    def pulls(self) -> tuple[Floats, Floats]:
        """Return its accelerations along and up, cm/s^2, each of shape (n,)."""
        x, z = (np.gradient(np.gradient(way, self.step_s), self.step_s) for way in (self.x, self.z))
        return x, z


@dataclass(frozen=True)
class Fingers:
    """What fingers carry of a stick's weight, as a share of it: from ``first`` to ``last`` over some time."""

    first: float
    last: float
    over_s: float

    def at(self, time_s: float) -> float:
        """Return the share at a time, as at the end from then on."""
        return self.first + (self.last - self.first) * min(time_s / self.over_s, 1.0)


NO_FINGERS = Fingers(0.0, 0.0, 1.0)


def swing(
    stick: Stick,
    carried: Carried,
    angle: float,
    turn: float,
    *,
    until: float,
    fingers: Fingers = NO_FINGERS,
) -> tuple[Floats, Floats]:
    """Let the stick swing by itself until its tip, once at rest, has sunk by ``until`` cm from its highest.

    Parameters
    ----------
    angle, turn
        Where it starts, radians and radians a second.
    until
        How far it may sink, cm; 0 ends at the highest point. Infinite: to the end of the fulcrum's way.
    fingers
        What they carry of its weight, or add to it.

    Returns
    -------
    Angles and their rates from the first point of the grid on, each of shape (m,), m at most the grid's.
    """
    along, up = carried.pulls()
    l, dt = stick.percussion_cm, carried.step_s

    def pull(i: int, at: float) -> float:
        weight = G_CM_S2 * (1 - fingers.at(i * dt))
        return -((weight + float(up[i])) * math.cos(at) - float(along[i]) * math.sin(at)) / l

    angles, turns, highest = [angle], [turn], -math.inf
    force = pull(0, angle)
    for i in range(1, len(carried.z)):
        angle += turn * dt + force * dt * dt / 2
        then = pull(i, angle)
        turn += (force + then) * dt / 2
        force = then
        height = float(carried.z[i]) + stick.reach_cm * math.sin(angle)
        if height < highest - until:
            break
        highest = max(highest, height)
        angles.append(angle)
        turns.append(turn)
    return np.array(angles), np.array(turns)


def level_db(striking_cm_s: float) -> float:
    """Return how loud a stroke is, dB re full scale: a model that follows the speed it strikes with."""
    return FULL_DB + 20 * math.log10(striking_cm_s / FULL_SPEED_CM_S)


def grid(n: int, step_s: float) -> Floats:
    """Return n times from 0 on, shape (n,)."""
    return np.arange(n, dtype=np.float64) * step_s


def still(n: int, step_s: float = STEP_S, height_cm: float = 0.0) -> Carried:
    """Return a fulcrum that stays where it is, for n points."""
    return Carried(np.zeros(n), np.full(n, height_cm), step_s)


def eased(share: Floats) -> Floats:
    """Return the smoothest way from 0 to 1: least jerk (Flash & Hogan 1985), shape as given."""
    s = np.clip(share, 0.0, 1.0)
    return np.asarray(s**3 * (10 - 15 * s + 6 * s**2))


def joined(start: tuple[float, float, float], end: float, seconds: float, n: int) -> Floats:
    """Join a state to rest at ``end`` by the polynomial of fifth order, at n points after the start.

    Parameters
    ----------
    start
        Value, rate and the rate's rate.
    end
        The value where it comes to rest, with neither rate nor force.

    Returns
    -------
    Values, shape (n,), the last of them ``end``.
    """
    value, rate, force = start
    far = end - value
    t = seconds
    matrix = np.array([[t**3, t**4, t**5], [3 * t**2, 4 * t**3, 5 * t**4], [6 * t, 12 * t**2, 20 * t**3]])
    right = np.array([far - rate * t - force * t**2 / 2, -rate - force * t, -force])
    a, b, c = np.linalg.solve(matrix, right)
    at = seconds * np.arange(1, n + 1) / n
    return np.asarray(value + rate * at + force * at**2 / 2 + a * at**3 + b * at**4 + c * at**5)
