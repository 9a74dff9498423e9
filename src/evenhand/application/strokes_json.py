"""A stroke plan as JSON (docs/strokes.md).

Conventions: cm to 0.001, seconds to a microsecond, beats a minute to 0.01; lengths are always cm here.
"""

from __future__ import annotations

import json
import math
from typing import Any

from evenhand.application.plan_strokes import PlannedExercise, TimedStroke
from evenhand.craft.doubles import Doubles
from evenhand.craft.free_heights import HandLimits
from evenhand.craft.stroke_remarks import Remark
from evenhand.domain.stroke import STROKE_CLASSES, StrokeHeights

Json = dict[str, Any]


def strokes_json(planned: PlannedExercise) -> str:
    """Write a stroke plan as JSON text, ending in a line break."""
    return json.dumps(as_json(planned), allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def as_json(planned: PlannedExercise) -> Json:
    """Turn a stroke plan into plain dicts, lists and numbers."""
    return {
        "exercise": planned.exercise_text,
        "tempo": str(planned.tempo),
        "stroke": planned.wishes.stroke,
        "unit": planned.wishes.unit,
        "restitution": planned.wishes.restitution,
        "heights": _heights(planned.wishes.heights),
        "strokes": [_stroke(timed) for timed in planned.timed()],
        "hands": {limits.hand: _hand(limits) for limits in planned.limits},
        "doubles": {doubles.hand: _doubles(doubles) for doubles in planned.doubles},
        "remarks": [_remark(remark) for remark in planned.plan.remarks],
    }


def _heights(heights: StrokeHeights) -> Json:
    return {
        each: {
            "low_cm": _cm(heights.of(each).low_cm),
            "high_cm": _cm(heights.of(each).high_cm),
            "aim_cm": _cm(heights.of(each).aim_cm),
        }
        for each in STROKE_CLASSES
    }


def _stroke(timed: TimedStroke) -> Json:
    stroke = timed.stroke
    return {
        "position": stroke.position,
        "hand": stroke.hand,
        "grace": stroke.grace,
        "stroke": stroke.motion,
        "before_cm": _cm(stroke.before_cm),
        "after_cm": _cm(stroke.after_cm),
        "own_interval_s": _s(timed.interval_s),
        "greatest_free_rebound_cm": _cm(timed.free_cm),
        "needs": timed.need,
        "bounce": stroke.bounce,
    }


def _hand(limits: HandLimits) -> Json:
    reach = limits.shortest
    return {
        "blows": limits.blows,
        "shortest_own_interval_s": None if reach is None else _s(reach.interval_s),
        "greatest_free_rebound_cm": None if reach is None else _cm(reach.free_cm),
        "greatest_thrown_rebound_cm": None if reach is None else _cm(reach.thrown_cm),
        "highest_rise_cm": None if reach is None else _cm(reach.rise_cm),
        "free_up_to_bpm": {each: _bpm(bpm) for each, bpm in limits.free_up_to_bpm.items()},
    }


def _doubles(doubles: Doubles) -> Json:
    return {
        "second_notes": list(doubles.second_notes),
        "interval_s": _s(doubles.interval_s),
        "played_as": doubles.played_as,
        "free_bounce_s": _s(doubles.free_bounce_s),
        "bounce_from_bpm": _bpm(doubles.bounce_from_bpm),
        "turns_from_bpm": _bpm(doubles.turns_from_bpm),
        "turned_at_bpm": _bpm(doubles.turned_at_bpm),
    }


def _remark(remark: Remark) -> Json:
    return {
        "kind": remark.kind,
        "text": remark.text,
        "positions": list(remark.positions),
        "hands": list(remark.hands),
    }


def _cm(height_cm: float | None) -> float | None:
    return None if height_cm is None else round(height_cm, 3)


def _s(seconds: float) -> float:
    return round(seconds, 6)


def _bpm(bpm: float) -> float | None:
    return round(bpm, 2) if math.isfinite(bpm) else None
