"""Rebound: how long a stick takes to rise and fall, how fast it strikes, how high it comes back.

Conventions: heights of the tip above the drum, cm; times s; speeds m/s; ``restitution`` is the speed
after a blow as a share of the speed before it, over 0 up to 1. The tip moves straight up and down in
free fall, without air: that is what the tip of a uniform stick does that pivots freely a third of its
length from the butt, for its tip is then the centre of percussion and falls with g (derived in
docs/strokes.md). The contact of 3 to 6 ms (Wagner 2006) is left out.

Textbook forms (Tatum, Classical Mechanics 5.2; Hill, Learning Scientific Programming with Python):
v = sqrt(2 g h), t = sqrt(2 h / g), h_n = e^(2n) h_0, T_n = e^n 2 v_1 / g.
"""

from __future__ import annotations

import math

GRAVITY_M_S2 = 9.80665  # standard gravity
ASSUMED_RESTITUTION = 0.8  # no published figure for heads or pads was found: measure your own
CONTACT_S = (0.003, 0.006)  # Wagner 2006: how long a stick stays on a drumhead


def fall_time_s(height_cm: float, *, gravity: float = GRAVITY_M_S2) -> float:
    """Return how long a tip takes to fall from a height, or to rise to it freely.

    >>> round(fall_time_s(12 * 2.54), 4)
    0.2493
    """
    return math.sqrt(2 * height_cm / 100 / gravity)


def striking_speed_m_s(height_cm: float, *, gravity: float = GRAVITY_M_S2) -> float:
    """Return the speed with which a tip strikes that fell from a height.

    >>> round(striking_speed_m_s(12 * 2.54), 3)
    2.445
    """
    return math.sqrt(2 * gravity * height_cm / 100)


def level_change_db(height_cm: float, reference_cm: float) -> float:
    """Return how much louder a blow from a height is than one from another, as a model has it.

    Level following striking speed: 20 log10(v / v_0) = 10 log10(h / h_0). No measurement.

    >>> round(level_change_db(30.48, 7.62), 2)
    6.02
    """
    return 10 * math.log10(height_cm / reference_cm)


def bounce_height_cm(height_cm: float, restitution: float, bounces: int = 1) -> float:
    """Return how high a dropped tip rises after so many bounces."""
    return height_cm * restitution ** (2 * bounces)


def bounce_interval_s(
    height_cm: float, restitution: float, bounce: int = 1, *, gravity: float = GRAVITY_M_S2
) -> float:
    """Return the time from one contact to the next, the first bounce's by default.

    A tip that fell from ``height_cm`` leaves with e v, and is back after 2 e v / g.
    """
    return 2 * restitution**bounce * striking_speed_m_s(height_cm, gravity=gravity) / gravity


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


def free_height_cm(interval_s: float) -> float:
    """Return the greatest height that a free rebound allows between two blows of one hand.

    The tip rises by its rebound and falls by its weight, half of the interval each:
    h = (g / 2) (T / 2)^2 = g T^2 / 8.

    >>> round(free_height_cm(0.5) / 2.54, 1)
    12.1
    """
    return 100 * GRAVITY_M_S2 * interval_s**2 / 8


def free_interval_s(height_cm: float) -> float:
    """Return the shortest time from blow to blow of one hand at a height, unforced: 2 sqrt(2 h / g)."""
    return 2 * fall_time_s(height_cm)


def kept_height_cm(interval_s: float, restitution: float) -> float:
    """Return the height that a stick keeps when it is thrown down just as hard as its rebound needs.

    A drum gives back only e of the speed. To come back to h by its rebound alone a tip must strike with
    sqrt(2 g h) / e, thus be thrown from h with v_0 = sqrt(2 g h (1 / e^2 - 1)). It then falls in
    sqrt(2 h / g) (1 / e - sqrt(1 / e^2 - 1)), which is less than a drop takes, and rises in sqrt(2 h / g).
    At e = 1 this is ``free_height_cm``.
    """
    return 100 * GRAVITY_M_S2 * interval_s**2 / 2 / _round_trip(restitution) ** 2


def kept_interval_s(height_cm: float, restitution: float) -> float:
    """Return the interval between blows of one hand that keep a height with the least throw."""
    return fall_time_s(height_cm) * _round_trip(restitution)


def _round_trip(restitution: float) -> float:
    """Return up and down again, in free rises, at the least throw that keeps the height."""
    back = 1 / restitution
    return 1 + back - math.sqrt(back**2 - 1)


def throw_speed_m_s(height_cm: float, restitution: float) -> float:
    """Return the least speed with which the hand must start the stick down to keep its height."""
    return striking_speed_m_s(height_cm) * math.sqrt(1 / restitution**2 - 1)


def rise_height_cm(interval_s: float) -> float:
    """Return the height above which no free rise fits into an interval, however hard the throw: g T^2 / 2.

    The way down is taken as nothing. Higher than this, the hand and not the rebound lifts the stick.
    """
    return 100 * GRAVITY_M_S2 * interval_s**2 / 2


def pressed_bounce_cm(height_cm: float, restitution: float, interval_s: float) -> float:
    """Return how high the stick rises between a throw and its bounce that comes ``interval_s`` later.

    Left alone it rises e^2 h. Where the bounce must come sooner the fingers bring it back: taken as a
    steady force, it rises e v T / 4.
    """
    pressed = 100 * restitution * striking_speed_m_s(height_cm) * interval_s / 4
    return min(pressed, bounce_height_cm(height_cm, restitution))
