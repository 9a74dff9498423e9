"""One hand's way from an impact to its next: what raises the stick, where it waits, how it is thrown.

Conventions: heights of the tip over the pad in cm; ``reach``, angles and grids as in ``stick``. The rise by
itself and the impact are physics; where the hand leads, it leads smoothly, as muscles can.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from benchmarks.filming.case import Floats, Rise
from benchmarks.filming.stick import G_CM_S2, STEP_S, Carried, Fingers, Stick, eased, grid, joined, swing

FULCRUM_CM = 4.0  # over the tip, where the stick meets the pad
FALLEN_CM = 0.1
SUNK_SHARE = 0.2  # of a rebound, at most, before the hand catches it
THROW_S = 0.03  # at least
CAUGHT_S = 0.08  # what a hand takes to stop a stick, and the least that it takes to lift one
SEPARATE_S = 0.24  # time enough to wait after the rise, and to prepare apart from it
SLOWEST_THROW, FASTEST_THROW = 1.5, 2.8  # powers of time: 2 is a steady force
STEEPEST = math.sin(math.radians(72))


@dataclass(frozen=True)
class Asked:
    """What is asked of a way: its seconds, what raises the stick, how high, how fast it strikes next."""

    seconds: float
    rise: Rise
    rebound_cm: float
    top_cm: float
    striking_cm_s: float


@dataclass(frozen=True)
class Way:
    """A way that was gone. Arrays have shape (n,): times from its impact, angles, the fulcrum's x and z.

    ``striking_cm_s`` is the tip's speed at its end, 0 where it ends without an impact.
    """

    times_s: Floats
    angles: Floats
    x: Floats
    z: Floats
    rebound_cm: float
    preparation_cm: float
    striking_cm_s: float


@dataclass(frozen=True)
class Mover:
    """One hand: its stick, how far its fulcrum rises with the tip, its fingers, its randomness.

    ``fingers`` is the most by which they brake a free rise at its end, of the stick's weight; at its start
    they help by half of that at most.
    """

    stick: Stick
    hand_share: float
    fingers: float
    rng: np.random.Generator

    def angle_at(self, height_cm: float, fulcrum_cm: float) -> float:
        """Return the stick's angle for a height of the tip, as steep as a hand goes."""
        sine = (height_cm - fulcrum_cm) / self.stick.reach_cm
        return math.asin(min(max(sine, -STEEPEST), STEEPEST))

    def height_of(self, angle: float, fulcrum_cm: float) -> float:
        """Return the height of the tip."""
        return fulcrum_cm + self.stick.reach_cm * math.sin(angle)

    @property
    def contact(self) -> float:
        """The stick's angle where it meets the pad."""
        return self.angle_at(0.0, FULCRUM_CM)

    def turn_of(self, tip_cm_s: float) -> float:
        """Return the rate of turning at the pad that gives the tip a vertical speed."""
        return tip_cm_s / (self.stick.reach_cm * math.cos(self.contact))

    def raised(self, height_cm: float) -> float:
        """Return how far the fulcrum rises for a height of the tip."""
        least = height_cm - FULCRUM_CM - STEEPEST * self.stick.reach_cm
        return max(self.hand_share * height_cm, least + 0.5)


def rise_s(height_cm: float) -> float:
    """Return about how long a free rise takes; a steep stick takes longer than its tip would alone."""
    return math.sqrt(2 * height_cm / G_CM_S2) * (1 + 0.0035 * height_cm)


def fulcrum_path(knots: list[tuple[float, float]], n: int, step_s: float) -> Floats:
    """Lead a fulcrum smoothly from knot to knot (seconds, cm), shape (n,)."""
    at = grid(n, step_s)
    path = np.full(n, knots[0][1])
    for (begin, low), (end, high) in pairwise(knots):
        path = path + (high - low) * eased((at - begin) / max(end - begin, step_s))
    return path


def go(mover: Mover, asked: Asked, leaving_cm_s: float) -> Way:
    """Go from one impact to the next; ``leaving_cm_s`` is the tip's upward speed just after the first."""
    throw_s = _throw_s(mover, asked)
    top_s = asked.seconds - throw_s
    risen_s = min(_risen_s(mover, asked, leaving_cm_s), top_s)
    separate = top_s - risen_s > SEPARATE_S
    if not separate:
        asked = replace(asked, top_cm=asked.rebound_cm if asked.rise == "free" else asked.top_cm)
    n = max(round(asked.seconds / STEP_S), 8) + 1
    carried = _carried(mover, asked, (risen_s, top_s), n=n, separate=separate)
    rising = _rising(mover, asked, carried, leaving_cm_s, risen_s, separate=separate)
    rising = rising[: n - round(2 * THROW_S / carried.step_s)]
    if separate:
        angles, top = _prepared(mover, asked, carried, rising, top_s)
    else:
        angles, top = _turned(mover, carried, rising, top_s)
    down, striking = thrown(mover, angles[top], n - 1 - top, carried.step_s, asked.striking_cm_s)
    angles = np.concatenate([angles[: top + 1], down])
    tip = carried.z + mover.stick.reach_cm * np.sin(angles)
    turns = first_top(tip), first_top(tip[::-1])
    return Way(grid(n, carried.step_s), angles, carried.x, carried.z, *turns, striking)


def first_top(tip_cm: Floats) -> float:
    """Return the first maximum of a way that begins at the pad, from which it falls by ``FALLEN_CM`` or more.

    Parameters
    ----------
    tip_cm
        Heights of the tip, shape (n,).
    """
    highest = np.maximum.accumulate(tip_cm)
    return float(highest[int(np.argmax(tip_cm < highest - FALLEN_CM))])


def _throw_s(mover: Mover, asked: Asked) -> float:
    """Draw how long the throw takes: a force about steady, a little early or late."""
    turned = mover.angle_at(asked.top_cm, FULCRUM_CM + mover.raised(asked.top_cm)) - mover.contact
    power = mover.rng.uniform(1.9, 2.4)
    return min(power * turned / mover.turn_of(asked.striking_cm_s), 0.5 * asked.seconds)


def _risen_s(mover: Mover, asked: Asked, leaving_cm_s: float) -> float:
    """Say how long the rise takes: by itself as physics has it, by the hand as the hand likes."""
    if asked.rise == "free":
        return rise_s(leaving_cm_s**2 / (2 * G_CM_S2))
    return rise_s(asked.rebound_cm) * mover.rng.uniform(1.1, 2.0)


def _carried(mover: Mover, asked: Asked, at: tuple[float, float], *, n: int, separate: bool) -> Carried:
    """Lead the fulcrum: up with the stick, up again with a preparation, down with the throw."""
    risen_s, top_s = at
    step_s = asked.seconds / (n - 1)
    low = mover.raised(asked.rebound_cm) if separate else mover.raised(asked.top_cm)
    high = mover.raised(asked.top_cm)
    waits_s = max(risen_s, top_s - 0.25) if separate else top_s
    knots = [(0.0, 0.0), (risen_s, low), (waits_s, low), (top_s, high), (asked.seconds, 0.0)]
    aside = mover.rng.normal(0.0, 0.5)
    back = [(t, aside * (0 < i < 4) - 0.12 * z) for i, (t, z) in enumerate(knots)]
    return Carried(fulcrum_path(back, n, step_s), FULCRUM_CM + fulcrum_path(knots, n, step_s), step_s)


def _rising(
    mover: Mover, asked: Asked, carried: Carried, leaving_cm_s: float, risen_s: float, *, separate: bool
) -> Floats:
    """Raise the stick, by itself, by the hand, or first the one and then the other; return its angles."""
    start = (mover.contact, mover.turn_of(leaving_cm_s))
    if asked.rise == "free":
        sinks = min(mover.rng.uniform(0.6, 1.8), SUNK_SHARE * asked.rebound_cm) if separate else 0.0
        helped, caught = mover.rng.uniform(0, 0.5 * mover.fingers), mover.rng.uniform(0, mover.fingers)
        fingers = Fingers(helped, -caught, risen_s)
        return swing(mover.stick, carried, *start, until=sinks, fingers=fingers)[0]
    by_itself_s = {"lifted": 0.004, "mixed": 0.45, "up": 0.3}[asked.rise]
    by_itself_s = max(by_itself_s * leaving_cm_s / G_CM_S2, 0.004)
    first = max(round(by_itself_s / carried.step_s), 2)
    short = Carried(carried.x[:first], carried.z[:first], carried.step_s)
    angles, turns = swing(mover.stick, short, *start, until=math.inf)
    end = max(round(risen_s / carried.step_s), first + round(CAUGHT_S / carried.step_s))
    end = min(end, len(carried.z) - 60)
    target = mover.angle_at(asked.rebound_cm if separate else asked.top_cm, float(carried.z[end]))
    rest = (end - first) * carried.step_s
    force = (turns[-1] - turns[-2]) / carried.step_s
    lifted = joined((float(angles[-1]), float(turns[-1]), float(force)), target, rest, end - first)
    return np.concatenate([angles, lifted])


def _turned(mover: Mover, carried: Carried, rising: Floats, top_s: float) -> tuple[Floats, int]:
    """Let the rise end where the throw begins: the stick waits at its highest until then."""
    risen = len(rising) - 1
    top = min(max(round(top_s / carried.step_s), risen), len(carried.z) - 30)
    angles = rising[: top + 1]
    level = mover.height_of(float(angles[-1]), float(carried.z[len(angles) - 1]))
    waiting = [mover.angle_at(level, float(z)) for z in carried.z[len(angles) : top + 1]]
    return np.concatenate([angles, np.array(waiting)]), top


def _prepared(
    mover: Mover, asked: Asked, carried: Carried, rising: Floats, top_s: float
) -> tuple[Floats, int]:
    """Catch the stick after its rise, let it wait, and prepare the next throw apart from that."""
    step, risen = carried.step_s, len(rising) - 1
    heights = carried.z[: risen + 1] + mover.stick.reach_cm * np.sin(rising)
    top = min(
        max(round(top_s / step), risen + round(CAUGHT_S / step)), len(carried.z) - 1 - round(THROW_S / step)
    )
    rest = top - risen
    prepares = round(mover.rng.uniform(0.15, 0.25) / step)
    level = float(heights[-1]) - min(mover.rng.uniform(0.2, 0.6), 0.1 * asked.rebound_cm)
    if asked.rise != "free":
        level = float(heights.max()) - mover.rng.uniform(0.5, 1.5)
    if rest - prepares < round(CAUGHT_S / step):
        tip = _caught(heights, asked.top_cm, step, rest)
    else:
        tip = _caught(heights, level, step, rest - prepares)
        tip = np.concatenate([tip, _preparing(tip[-1:], asked.top_cm, prepares)])
    sine = np.clip((tip - carried.z[risen + 1 : top + 1]) / mover.stick.reach_cm, -0.999, 0.999)
    return np.concatenate([rising, np.arcsin(sine)]), top


def _caught(heights: Floats, level: float, step: float, n: int) -> Floats:
    """Bring the tip from how it moves to rest at a level, and hold it there, n points in all."""
    rate = float(heights[-1] - heights[-2]) / step
    force = float(heights[-1] - 2 * heights[-2] + heights[-3]) / step**2
    near = 0.8 * float(heights[-1]) / max(-rate, 1.0)  # before it would fall to the pad
    taken = min(n, max(round(min(CAUGHT_S, near) / step), 8))
    stopped = joined((float(heights[-1]), rate, force), level, taken * step, taken)
    return np.concatenate([stopped, np.full(n - taken, level)])


def _preparing(last: Floats, top_cm: float, n: int) -> Floats:
    return np.asarray(last + (top_cm - last) * eased(np.arange(1, n + 1) / max(n, 1)))


def thrown(mover: Mover, angle: float, n: int, step: float, striking_cm_s: float) -> tuple[Floats, float]:
    """Throw the stick down in n points; return the angles and the speed it strikes with."""
    turned, seconds = angle - mover.contact, n * step
    power = mover.turn_of(striking_cm_s) * seconds / turned
    power = min(max(power, SLOWEST_THROW), FASTEST_THROW)
    share = np.arange(1, n + 1) / n
    speed = power * turned / seconds * mover.stick.reach_cm * math.cos(mover.contact)
    return np.asarray(angle - turned * share**power), float(speed)
