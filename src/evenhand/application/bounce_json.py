"""Heard drops as JSON (docs/bounce.md)."""

from __future__ import annotations

from evenhand.application.figures_json import Json, figure, input_facts, json_of, rounded, times
from evenhand.domain.bounce import BounceComparison, HeardBounce, HeardDrop, LabelBounce

TIME_DIGITS = 7


def bounce_text(heard: HeardBounce) -> str:
    """Write the drops of a take as JSON text."""
    return json_of(bounce_json(heard))


def bounce_json(heard: HeardBounce) -> Json:
    """Turn the drops of a take into plain dicts, lists and numbers."""
    return {
        "version": heard.version,
        "name": heard.name,
        "input": input_facts(heard.input),
        "warnings": list(heard.warnings),
        "drops": [_drop(drop) for drop in heard.drops],
        "stray_s": times(heard.stray_s),
        "labels": [_label(label) for label in heard.labels],
        "comparisons": [_comparison(pair) for pair in heard.comparisons],
        "longest": heard.longest,
    }


def _drop(drop: HeardDrop) -> Json:
    """Write one drop."""
    damped = drop.damped_from_s
    return {
        "start_s": rounded(drop.start_s, TIME_DIGITS),
        "label": drop.label,
        "bounces": drop.bounces,
        "rings_s": rounded(drop.rings_s, TIME_DIGITS),
        "restitution": figure(drop.restitution),
        "first_height_cm": figure(drop.first_height_cm),
        "rebound_height_cm": figure(drop.rebound_height_cm),
        "hits_s": times(drop.hits_s),
        "kind": drop.kind,
        "why": drop.why,
        "damped_from_s": None if damped is None else rounded(damped, TIME_DIGITS),
    }


def _label(label: LabelBounce) -> Json:
    """Write what was heard of one grip or hand."""
    return {
        "label": label.label,
        "drops": label.drops,
        "free": label.free,
        "restitution": figure(label.restitution),
        "bounces": figure(label.bounces),
    }


def _comparison(pair: BounceComparison) -> Json:
    """Write how two grips or hands stand to each other."""
    return {
        "first": pair.first,
        "second": pair.second,
        "restitution_difference": figure(pair.difference),
        "longer": pair.longer,
    }
