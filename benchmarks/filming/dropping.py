"""A stick that is dropped, and bounces until it rests: what a bounce test films.

Conventions: as in ``playing``. The right hand lets the stick turn freely about its fulcrum; the left lies
still.
"""

from __future__ import annotations

import math

import numpy as np

from benchmarks.filming.case import FilmCase, Floats, StrokeTruth, kind_of
from benchmarks.filming.stick import G_CM_S2, STEP_S, Stick, level_db, still, swing
from benchmarks.filming.ways import FULCRUM_CM, Mover, fulcrum_path

HELD_S, LIFT_S, RESTS_S = 0.6, 0.8, 0.8
LONGEST_S = 1.5
SHORTEST_FLIGHT_S = 0.02  # below it the stick rests


def drop_all(case: FilmCase, mover: Mover) -> tuple[Floats, list[StrokeTruth]]:
    """Drop a stick from each height in turn.

    Returns
    -------
    Its angle every ``STEP_S``, shape (n,), and each impact.
    """
    angles = [np.full(round(RESTS_S / STEP_S), mover.contact)]
    impacts: list[StrokeTruth] = []
    for height_cm in case.drops:
        high = mover.angle_at(height_cm, FULCRUM_CM)
        n = round(LIFT_S / STEP_S)
        angles += [fulcrum_path([(0.0, mover.contact), (LIFT_S, high)], n, STEP_S)]
        angles += [np.full(round(HELD_S / STEP_S), high)]
        fallen, bounces = _bounces(case, mover, high, sum(map(len, angles)) * STEP_S)
        angles += [fallen, np.full(round(RESTS_S / STEP_S), mover.contact)]
        impacts += bounces
    return np.concatenate(angles), impacts


def _bounces(case: FilmCase, mover: Mover, high: float, begins_s: float) -> tuple[Floats, list[StrokeTruth]]:
    """Let one drop fall and bounce until it rests."""
    angles, turn = _flight(mover.stick, mover.contact, high, 0.0)
    parts, impacts = [angles], []
    at_s, before_cm = begins_s + len(angles) * STEP_S, mover.height_of(high, FULCRUM_CM)
    while True:
        arrived = -turn * mover.stick.reach_cm * math.cos(mover.contact)
        angles, turn = _flight(mover.stick, mover.contact, mover.contact, -case.restitution * turn)
        after_cm = mover.height_of(float(angles.max()), FULCRUM_CM)
        facts = (kind_of(before_cm), "free", level_db(arrived), arrived, case.restitution)
        impacts.append(StrokeTruth(at_s, "R", before_cm, after_cm, *facts))  # type: ignore[arg-type]
        if len(angles) * STEP_S < SHORTEST_FLIGHT_S:
            return np.concatenate(parts), impacts
        parts.append(angles)
        at_s, before_cm = at_s + len(angles) * STEP_S, after_cm


def _flight(stick: Stick, contact: float, angle: float, turn: float) -> tuple[Floats, float]:
    """Let the stick swing until it meets the pad; return its angles and the rate it arrives with.

    The last point lies a little below the pad: what it gained there is taken off, so that no energy comes in.
    """
    n = round(LONGEST_S / STEP_S)
    angles, turns = swing(stick, still(n, STEP_S, FULCRUM_CM), angle, turn, until=math.inf)
    end = 1 + int(np.argmax(angles[1:] <= contact))
    gained = 2 * G_CM_S2 * math.cos(contact) / stick.percussion_cm * (contact - float(angles[end]))
    return angles[:end], -math.sqrt(max(float(turns[end]) ** 2 - gained, 0.0))
