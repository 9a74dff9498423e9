"""Figures as JSON: the value, its interval, its unit and its count."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from evenhand.domain.measures import Measure
from evenhand.domain.take import InputFacts

Json = dict[str, Any]

TIME_DIGITS, FIGURE_DIGITS = 7, 5


def json_of(figures: Json) -> str:
    """Write JSON text, ending in a line break; no NaN and no infinity can be in it."""
    return json.dumps(figures, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def figure(measure: Measure) -> Json:
    """Write a figure; without a value, how many it would need."""
    if measure.value is None:
        return {
            "value": None,
            "ci95": None,
            "unit": measure.unit,
            "n": int(measure.n),
            "needs": measure.needs,
        }
    ci95 = None if measure.ci95 is None else [rounded(edge) for edge in measure.ci95]
    return {"value": rounded(measure.value), "ci95": ci95, "unit": measure.unit, "n": int(measure.n)}


def rounded(value: float, digits: int = FIGURE_DIGITS) -> float:
    """Round a number; array scalars become plain floats, and -0.0 becomes 0.0."""
    return round(float(value), digits) + 0.0


def times(values_s: Iterable[float]) -> list[float]:
    """Write times, seconds."""
    return [rounded(value, TIME_DIGITS) for value in values_s]


def input_facts(facts: InputFacts) -> Json:
    """Say what the file was."""
    return {
        "format": facts.format,
        "rate": facts.rate_hz,
        "channels": facts.channels,
        "channel_used": facts.channel_used,
        "seconds": rounded(facts.seconds, TIME_DIGITS),
        "warnings": list(facts.warnings),
    }
