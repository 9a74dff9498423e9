"""What stands left of the first note: clef, meter, repeat sign and the graces that may open a line.

Conventions: the engraver's units from a line's left edge, px where a name says so.
"""

from __future__ import annotations

from collections.abc import Iterable

from evenhand.domain.exercise import Exercise, Meter
from evenhand.engraving.bar_lines import start_units
from evenhand.engraving.columns import graces_back
from evenhand.engraving.engraver import glyph_boxes
from evenhand.engraving.ink import MUSIC_SIZE
from evenhand.engraving.line import HEAD_UNITS

CLEF_UNITS = 2.0 / 0.07
METER_UNITS = 26.0 / 0.07
LEFT_UNITS, LEFT_WITH_METER_UNITS = 40.0 / 0.07, 64.0 / 0.07  # the first note's middle, at least
METER_GAP_UNITS = 110.0  # between a meter of two digits and the first note's head


def left_px(exercise: Exercise, cuts: Iterable[int], repeat: int | None, scale: float) -> float:
    """Return where the first note of each line stands, px, if lines open at ``cuts``."""
    first = _with_meter(exercise.meter) if exercise.meter else LEFT_UNITS
    needs = [(LEFT_UNITS if at else first + start_units(repeat)) + _back(exercise, at) for at in {0, *cuts}]
    return max(needs) * scale


def _back(exercise: Exercise, position: int) -> float:
    return max(graces_back(len(exercise.notes[position].graces)), default=0.0)


def _with_meter(meter: Meter) -> float:
    wide = max(_digits_units(meter.beats), _digits_units(meter.unit))
    return max(LEFT_WITH_METER_UNITS, METER_UNITS + wide + METER_GAP_UNITS + HEAD_UNITS)


def _digits_units(value: int) -> float:
    """Return how wide a number of the meter is drawn."""
    boxes = [glyph_boxes()[f"E08{digit}"] for digit in str(value)]
    return MUSIC_SIZE * sum(left + width for left, _, width, _ in boxes)
