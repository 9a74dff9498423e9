"""A minute of single strokes as JSON (docs/minute.md)."""

from __future__ import annotations

from evenhand.application.figures_json import TIME_DIGITS, Json, figure, input_facts, json_of, rounded, times
from evenhand.domain.minute import HeardMinute


def minute_text(heard: HeardMinute) -> str:
    """Write the strokes of a take as JSON text."""
    return json_of(minute_json(heard))


def minute_json(heard: HeardMinute) -> Json:
    """Turn what was heard into plain dicts, lists and numbers."""
    return {
        "version": heard.version,
        "name": heard.name,
        "input": input_facts(heard.input),
        "warnings": list(heard.warnings),
        "strokes": heard.strokes,
        "hidden": heard.hidden,
        "left_out_s": times(heard.left_out_s),
        "seconds": rounded(heard.seconds, TIME_DIGITS),
        "asked_seconds": rounded(heard.asked_s, TIME_DIGITS),
        "start_s": rounded(heard.start_s, TIME_DIGITS),
        "whole": heard.whole,
        "stops": heard.stops,
        "per_minute": rounded(heard.per_minute, 2),
        "rate_per_s": [[rounded(at, 4), rounded(rate, 4)] for at, rate in heard.rate_per_s],
        "tiring_per_minute": figure(heard.tiring_per_minute),
        "interval_ms": figure(heard.interval_ms),
        "interval_sd_ms": figure(heard.interval_sd_ms),
        "alternation_ms": figure(heard.alternation_ms),
        "second_hand_late_ms": figure(heard.second_hand_late_ms),
        "level_difference_db": figure(heard.level_difference_db),
        "first_hand": heard.first_hand,
    }
