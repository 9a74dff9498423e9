"""Stick heights as people write them: inches or centimetres.

Conventions: lengths are kept in cm; an inch is 2.54 cm exactly.
"""

from __future__ import annotations

from evenhand.domain.stroke import CM_PER_INCH, Unit

CM_IN: dict[Unit, float] = {"in": CM_PER_INCH, "cm": 1.0}


def in_unit(height_cm: float, unit: Unit) -> float:
    """Turn centimetres into the unit.

    >>> in_unit(25.4, "in"), in_unit(25.4, "cm")
    (10.0, 25.4)
    """
    return height_cm / CM_IN[unit]


def height_words(height_cm: float, unit: Unit) -> str:
    """Write a height with its unit, to a tenth where that says more.

    >>> height_words(27.94, "in"), height_words(7.66, "in"), height_words(7.66, "cm")
    ('11 in', '3.0 in', '7.7 cm')
    """
    value = in_unit(height_cm, unit)
    whole = round(value)
    exact = abs(value - whole) < 1e-6
    return f"{whole if exact else format(value, '.1f')} {unit}"
