"""Falling and bouncing sticks: formulas that only tests ask for, from those of the rebound."""

from __future__ import annotations

import math

from evenhand.music.strokes.rebound import (
    GRAVITY_M_S2,
    bounce_interval_s,
    fall_time_s,
    round_trip,
    striking_speed_m_s,
)


def level_change_db(height_cm: float, reference_cm: float) -> float:
    """Return how much louder a blow from a height is than one from another, as a model has it.

    Level following striking speed: 20 log10(v / v_0) = 10 log10(h / h_0). No measurement.

    >>> round(level_change_db(30.48, 7.62), 2)
    6.02
    """
    return 10 * math.log10(height_cm / reference_cm)


def contact_time_s(
    height_cm: float, restitution: float, contact: int, *, gravity: float = GRAVITY_M_S2
) -> float:
    """Return when a tip dropped at 0 s meets the drum for the n-th time, n from 1."""
    bounces = (bounce_interval_s(height_cm, restitution, n, gravity=gravity) for n in range(1, contact))
    return fall_time_s(height_cm, gravity=gravity) + sum(bounces)


def rest_time_s(height_cm: float, restitution: float, *, gravity: float = GRAVITY_M_S2) -> float:
    """Return when a dropped tip has come to rest: sqrt(2 h / g) (1 + e) / (1 - e)."""
    return fall_time_s(height_cm, gravity=gravity) * (1 + restitution) / (1 - restitution)


def path_cm(height_cm: float, restitution: float) -> float:
    """Return how far a dropped tip travels until it rests: h (1 + e^2) / (1 - e^2)."""
    squared = restitution**2
    return height_cm * (1 + squared) / (1 - squared)


def restitution_of(intervals_s: tuple[float, float]) -> float:
    """Return the restitution that two bounce intervals in a row tell: their ratio."""
    first, second = intervals_s
    return second / first


def kept_interval_s(height_cm: float, restitution: float) -> float:
    """Return the interval between blows of one hand that keep a height with the least throw."""
    return fall_time_s(height_cm) * round_trip(restitution)


def throw_speed_m_s(height_cm: float, restitution: float) -> float:
    """Return the least speed with which the hand must start the stick down to keep its height."""
    return striking_speed_m_s(height_cm) * math.sqrt(1 / restitution**2 - 1)
