"""A heard take as the JSON that others build on (docs/json.md, schema/listen-1.json).

Conventions: times are seconds to 0.1 microsecond, ms to 0.1 microsecond, levels dB to
0.001. There is no NaN and no infinity: one that got this far is an error of ours and raises.

Figures as JSON: the value, its interval, its unit and its count.

A finding's JSON (docs/json.md), read back.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any, get_args

from evenhand.measuring.values import (
    Evidence,
    Finding,
    FindingKind,
    HandMeasures,
    HeardTake,
    Measure,
    Measures,
    PositionMeasures,
)
from evenhand.music.exercise import Exercise
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import all_remarks, remark_words
from evenhand.take import Heard, Hit, InputFacts, Remark, RemarkKind

SCHEMA_ID = "urn:evenhand:listen-1"

TIME_DIGITS, MS_DIGITS, LEVEL_DIGITS, CONFIDENCE_DIGITS = 7, 4, 3, 3
UNIT_DIGITS: Mapping[str, int] = {"ms": 4, "dB": 3, "bpm": 4, "bpm/min": 4, "ms/min": 4, "dB/min": 4}
OTHER_DIGITS = 5

PLACES: Mapping[str, str] = {  # where a measure of the domain stands in the JSON, if not under its own name
    "balance_level_db": "balance.level_db",
    "balance_timing_ms": "balance.timing_ms",
    "spread_trend_ms_per_min": "fatigue.spread_trend_ms_per_min",
    "level_trend_db_per_min": "fatigue.level_trend_db_per_min",
}

Json = dict[str, Any]


def json_text(take: HeardTake) -> str:
    """Write a heard take as JSON text, ending in a line break."""
    return json.dumps(as_json(take), allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def as_json(take: HeardTake) -> Json:
    """Turn a heard take into plain dicts, lists and numbers, in the contract's words."""
    return {
        "schema": SCHEMA_ID,
        "version": take.version,
        "name": take.name,
        "exercise": take.exercise_text,
        "tempo": None if take.tempo is None else str(take.tempo),
        "input": _input(take.input),
        **_heard(take.heard),
        **_measures(take.measures),
        "findings": [_finding(finding, take.exercise) for finding in take.findings],
    }


def _input(facts: InputFacts) -> Json:
    """Say what the file was."""
    return {
        "format": facts.format,
        "rate": facts.rate_hz,
        "channels": facts.channels,
        "channel_used": facts.channel_used,
        "seconds": _number(facts.seconds, TIME_DIGITS),
        "warnings": list(facts.warnings),
    }


def _heard(heard: Heard) -> Json:
    """Say what was heard, in order of time."""
    return {
        "begins_at_s": _number(heard.begins_at_s, TIME_DIGITS),
        "clock": heard.clock,
        "ambiguity": None if heard.ambiguity is None else remark_words(heard.ambiguity),
        "unlike": None if heard.unlike is None else remark_words(heard.unlike),
        "warnings": all_remarks(heard.warnings),
        "remarks": {
            "ambiguity": _remark(heard.ambiguity),
            "unlike": _remark(heard.unlike),
            "warnings": [_remark(each) for each in heard.warnings],
        },
        "hits": [_hit(hit) for hit in heard.hits],
        "missed": [
            {"repetition": int(note.repetition), "position": int(note.position), "grace": bool(note.grace)}
            for note in heard.missed
        ],
        "extra": [
            {
                "time_s": _number(hit.time_s, TIME_DIGITS),
                "level_db": _number(hit.level_db, LEVEL_DIGITS),
                "reason": hit.reason,
            }
            for hit in heard.extra
        ],
        "clicks": [{"time_s": _number(time_s, TIME_DIGITS)} for time_s in heard.clicks_s],
    }


def _hit(hit: Hit) -> Json:
    """Write one hit."""
    return {
        "time_s": _number(hit.time_s, TIME_DIGITS),
        "level_db": _number(hit.level_db, LEVEL_DIGITS),
        "hand": hit.hand,
        "repetition": _whole(hit.repetition),
        "position": _whole(hit.position),
        "grace": bool(hit.grace),
        "asynchrony_ms": _number(hit.asynchrony_ms, MS_DIGITS),
        "deviation_ms": _number(hit.deviation_ms, MS_DIGITS),
        "confidence": _number(hit.confidence, CONFIDENCE_DIGITS),
    }


def _measures(measures: Measures | None) -> Json:
    """Write all measures; blind, the same keys with nothing in them."""
    if measures is None:
        return dict(_NOTHING_MEASURED)
    return {
        "tempo_bpm": _measure(measures.tempo_bpm),
        "drift_bpm_per_min": _measure(measures.drift_bpm_per_min),
        "hands": {hand: _hand(of_hand) for hand, of_hand in measures.hands.items()},
        "balance": {
            "level_db": _measure(measures.balance_level_db),
            "timing_ms": _measure(measures.balance_timing_ms),
        },
        "doubles": {
            hand: {
                "second_minus_first_db": _measure(doubles.second_minus_first_db),
                "short_share": _measure(doubles.short_share),
            }
            for hand, doubles in measures.doubles.items()
        },
        "accents": {
            hand: {"over_taps_db": _measure(over)} for hand, over in measures.accents_over_taps_db.items()
        },
        "graces": {
            hand: {"gap_ms": _measure(graces.gap_ms), "level_db": _measure(graces.level_db)}
            for hand, graces in measures.graces.items()
        },
        "fatigue": {
            "spread_trend_ms_per_min": _measure(measures.spread_trend_ms_per_min),
            "level_trend_db_per_min": _measure(measures.level_trend_db_per_min),
        },
        "timekeeper": _timekeeper(measures),
        "positions": [_position(position) for position in measures.positions],
    }


_NOTHING_MEASURED: Json = {
    "tempo_bpm": None,
    "drift_bpm_per_min": None,
    "hands": {},
    "balance": None,
    "doubles": {},
    "accents": {},
    "graces": {},
    "fatigue": None,
    "timekeeper": None,
    "positions": [],
}


def _hand(hand: HandMeasures) -> Json:
    """Write one hand's measures."""
    return {
        "timing_mean_ms": _measure(hand.timing_mean_ms),
        "timing_sd_ms": _measure(hand.timing_sd_ms),
        "interval_sd_ms": _measure(hand.interval_sd_ms),
        "level_mean_db": _measure(hand.level_mean_db),
        "level_sd_db": _measure(hand.level_sd_db),
    }


def _timekeeper(measures: Measures) -> Json | None:
    """Write the two-level model; None where its signs do not allow it."""
    if measures.timekeeper_sd_ms is None:
        return None
    return {
        "timekeeper_sd_ms": _measure(measures.timekeeper_sd_ms),
        "hand_sd_ms": {hand: _measure(of_hand.hand_sd_ms) for hand, of_hand in measures.hands.items()},
    }


def _position(position: PositionMeasures) -> Json:
    """Write one note's measures over all repetitions."""
    return {
        "position": int(position.position),
        "hand": position.hand,
        "timing_ms": _measure(position.timing_ms),
        "level_db": _measure(position.level_db),
        "missed": int(position.missed),
    }


def _measure(measure: Measure | None) -> Json | None:
    """Write a figure with its interval and count, or say how many it would need."""
    if measure is None:
        return None
    if measure.value is None:
        needs = None if measure.needs is None else int(measure.needs)
        return {"value": None, "unit": measure.unit, "n": int(measure.n), "needs": needs}
    digits = UNIT_DIGITS.get(measure.unit, OTHER_DIGITS)
    return {
        "value": _number(measure.value, digits),
        "unit": measure.unit,
        "ci95": _interval(measure.ci95, digits),
        "n": int(measure.n),
    }


def _finding(finding: Finding, exercise: Exercise | None) -> Json:
    """Write one finding, in words and as values."""
    return {
        "kind": finding.kind,
        "text": finding_words(finding, exercise),
        "evidence": _evidence(finding.evidence),
        "remedy": remedy_words(finding, exercise),
        "question": finding.question,
        "figures": {name: _measure(figure) for name, figure in finding.figures.items()},
        "remark": _remark(finding.remark),
        "practise": finding.practise,
    }


def _remark(remark: Remark | None) -> Json | None:
    """Write a remark as its kind and its facts."""
    return None if remark is None else {"kind": remark.kind, "facts": dict(remark.facts)}


def _evidence(evidence: Evidence | None) -> Json | None:
    """Write the figure behind a finding."""
    if evidence is None:
        return None
    digits = UNIT_DIGITS.get(evidence.unit, OTHER_DIGITS)
    return {
        "measure": PLACES.get(evidence.measure, evidence.measure),
        "value": _number(evidence.value, digits),
        "unit": evidence.unit,
        "ci95": _interval(evidence.ci95, digits),
        "n": int(evidence.n),
        "audible_from": _number(evidence.audible_from, digits),
        "positions": [int(position) for position in evidence.positions],
    }


def _number(value: float | None, digits: int) -> float | None:
    """Round a number; array scalars become plain floats, and -0.0 becomes 0.0."""
    return None if value is None else round(float(value), digits) + 0.0


def _whole(value: int | None) -> int | None:
    """Turn an array's whole number into a plain one."""
    return None if value is None else int(value)


def _interval(ci95: tuple[float, float] | None, digits: int) -> list[float | None] | None:
    """Write an interval as [low, high]."""
    return None if ci95 is None else [_number(edge, digits) for edge in ci95]


SECONDS_DIGITS, FIGURE_DIGITS = 7, 5


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
    return [rounded(value, SECONDS_DIGITS) for value in values_s]


def input_facts(facts: InputFacts) -> Json:
    """Say what the file was."""
    return {
        "format": facts.format,
        "rate": facts.rate_hz,
        "channels": facts.channels,
        "channel_used": facts.channel_used,
        "seconds": rounded(facts.seconds, SECONDS_DIGITS),
        "warnings": list(facts.warnings),
    }


FindingJson = Mapping[str, Any]


def finding_of(found: FindingJson) -> Finding:
    """Read one finding; one that an earlier version stored is kept in its words.

    What it lacks raises KeyError, TypeError or ValueError.
    """
    evidence = None if found["evidence"] is None else _finding_json_evidence(found["evidence"])
    kind = _finding_kind(found["kind"])
    if "figures" not in found:
        written = {"text": str(found["text"]), "remedy": str(found["remedy"])}
        return Finding(kind, evidence, remark=Remark("written", written))
    return Finding(
        kind,
        evidence,
        None if found["question"] is None else _finding_kind(found["question"]),
        {str(name): figure_of(figure) for name, figure in found["figures"].items()},
        remark_of(found["remark"]),
        bool(found["practise"]),
    )


def _finding_kind(found: str) -> FindingKind:
    kinds: tuple[FindingKind, ...] = get_args(FindingKind)
    (kind,) = (each for each in kinds if each == found)
    return kind


def figure_of(found: FindingJson) -> Measure:
    """Read a figure."""
    ends = found.get("ci95")
    value = _finding_json_number(found["value"])
    return Measure(
        value, int(found["n"]), str(found["unit"]), _two(ends) if ends else None, found.get("needs")
    )


def remark_of(found: FindingJson | str | None) -> Remark | None:
    """Read a remark; an earlier version stored its words alone."""
    if found is None:
        return None
    if isinstance(found, str):
        return Remark("written", {"text": found})
    kinds: tuple[RemarkKind, ...] = get_args(RemarkKind)
    (kind,) = (each for each in kinds if each == found["kind"])
    return Remark(kind, dict(found["facts"]))


def remarks_of(found: FindingJson) -> tuple[Remark | None, Remark | None, tuple[Remark, ...]]:
    """Read what a take is ambiguous in, why it is unlike its exercise, and its warnings."""
    remarks = found.get("remarks", found)
    warnings = tuple(each for each in map(remark_of, remarks["warnings"]) if each is not None)
    return remark_of(remarks["ambiguity"]), remark_of(remarks["unlike"]), warnings


def _finding_json_evidence(found: FindingJson) -> Evidence:
    """Read the figure behind a finding."""
    ends = found["ci95"]
    return Evidence(
        measure=str(found["measure"]),
        value=_finding_json_number(found["value"]),
        unit=str(found["unit"]),
        n=int(found["n"]),
        ci95=None if ends is None else _two(ends),
        audible_from=_finding_json_number(found["audible_from"]),
        positions=tuple(int(position) for position in found["positions"]),
    )


def _two(ends: Iterable[float]) -> tuple[float, float]:
    low, high = ends
    return float(low), float(high)


def _finding_json_number(found: float | None) -> float | None:
    return None if found is None else float(found)
