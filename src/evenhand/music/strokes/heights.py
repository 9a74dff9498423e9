"""Strokes: how high the stick starts, and how it moves from one note to the next.

Conventions: heights are those of the stick's tip above the drum, cm. The four motions
are the trade's: a *full* stroke starts and ends high, a *down* stroke starts high and
ends low, a *tap* starts and ends low, an *up* stroke starts low and ends high.

Stick heights as people write them: inches or centimetres.

Conventions: lengths are kept in cm; an inch is 2.54 cm exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from evenhand.music.exercise import Hand

StrokeClass = Literal["tap", "half", "full"]
Motion = Literal["full", "down", "tap", "up"]
Unit = Literal["in", "cm"]

STROKE_CLASSES: tuple[StrokeClass, ...] = get_args(StrokeClass)
CM_PER_INCH = 2.54


def stroke_class(text: str | None) -> StrokeClass | None:
    """Read a stroke class; None for anything else.

    >>> stroke_class("tap"), stroke_class("")
    ('tap', None)
    """
    return next((known for known in STROKE_CLASSES if known == text), None)


@dataclass(frozen=True, slots=True)
class HeightRange:
    """From where to where a stroke of one class starts, and the height to aim at, cm."""

    low_cm: float
    high_cm: float
    aim_cm: float

    @classmethod
    def inches(cls, low: float, high: float, aim: float) -> HeightRange:
        """Make a range from inches."""
        return cls(low * CM_PER_INCH, high * CM_PER_INCH, aim * CM_PER_INCH)


@dataclass(frozen=True, slots=True)
class StrokeHeights:
    """The three classes' heights; a teacher may set others."""

    tap: HeightRange
    half: HeightRange
    full: HeightRange

    def of(self, stroke: StrokeClass) -> HeightRange:
        """Return one class's range."""
        return {"tap": self.tap, "half": self.half, "full": self.full}[stroke]


# Taps 3-5 in, halves 6-9 in, fulls to where the stick stands upright: common practice. A common stick
# is held about 28 cm (11 in) from its tip, so upright its tip is about 11 in over the hand.
COMMON_HEIGHTS = StrokeHeights(
    tap=HeightRange.inches(3, 5, 4),
    half=HeightRange.inches(6, 9, 7.5),
    full=HeightRange.inches(10, 12, 11),
)


@dataclass(frozen=True, slots=True)
class PlannedStroke:
    """How one blow of an exercise is to be played.

    ``position`` is the note's; ``grace`` counts a note's graces from 0, None for the note
    itself. ``before_cm`` is where the stick starts, ``after_cm`` where it stops.
    ``own_interval`` is to the same hand's next blow, as a fraction of a whole note.
    """

    position: int
    hand: Hand
    motion: Motion
    before_cm: float
    after_cm: float
    own_interval: float
    grace: int | None = None
    bounce: bool = False  # the second of one throw and its bounce, no wrist stroke of its own


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
