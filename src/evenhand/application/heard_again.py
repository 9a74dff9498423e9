"""A take's stored JSON (docs/json.md), read back as the heard take that the pages draw.

Conventions: as in ``as_json``; figures are those that were stored, rounded as they were. What the
JSON does not hold is worked out of what it does: the stretches (``heard_stretches``), written
times, the tempo played, the typical interval.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from statistics import fmean, median
from typing import Any, cast

from evenhand.application.as_json import PLACES, SCHEMA_ID
from evenhand.application.finding_json import figure_of, finding_of, remarks_of
from evenhand.application.heard_stretches import stretches_of
from evenhand.craft.text import parse_exercise
from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.findings import Finding
from evenhand.domain.heard import ExtraHit, Heard, Hit, MissedNote
from evenhand.domain.heard_take import HeardTake
from evenhand.domain.measures import (
    DoubleMeasures,
    GraceMeasures,
    HandMeasures,
    Measure,
    Measures,
    PositionMeasures,
)
from evenhand.domain.take import InputFacts
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongUse

Json = Mapping[str, Any]
_NAMES = {place: name for name, place in PLACES.items()}


def heard_take_of(json_text: str) -> HeardTake:
    """Read a heard take back.

    Raises
    ------
    WrongUse
        Where the text is not the JSON of a heard take.
    """
    try:
        found = json.loads(json_text)
        if found["schema"] != SCHEMA_ID:
            raise WrongUse(f"a heard take's JSON: got the schema {found['schema']!r}; must be {SCHEMA_ID}.")
        return _take(found)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, RecursionError) as error:
        raise WrongUse(f"a heard take's JSON: got {type(error).__name__} ({error}).") from error


def _take(found: Json) -> HeardTake:
    exercise = None if found["exercise"] is None else parse_exercise(found["exercise"])
    tempo = None if found["tempo"] is None else Tempo.parse(found["tempo"])
    heard = _heard(found, exercise, tempo)
    measures = None
    if exercise is not None and tempo is not None and found["tempo_bpm"] is not None:
        measures = _measures(found, exercise, tempo)
    return HeardTake(
        input=_input(found["input"]),
        exercise=exercise,
        exercise_text=found["exercise"],
        tempo=tempo,
        heard=heard,
        measures=measures,
        findings=tuple(_finding(finding) for finding in found["findings"]),
        name=str(found["name"]),
        version=str(found["version"]),
    )


def _input(found: Json) -> InputFacts:
    return InputFacts(
        format=found["format"],
        seconds=float(found["seconds"]),
        rate_hz=found["rate"],
        channels=found["channels"],
        channel_used=found["channel_used"],
        warnings=tuple(found["warnings"]),
    )


def _finding(found: Json) -> Finding:
    """Read a finding; its evidence has the measure's own name again."""
    finding = finding_of(found)
    if finding.evidence is None:
        return finding
    name = _NAMES.get(finding.evidence.measure, finding.evidence.measure)
    return replace(finding, evidence=replace(finding.evidence, measure=name))


def _heard(found: Json, exercise: Exercise | None, tempo: Tempo | None) -> Heard:
    hits = tuple(hit_of(hit, exercise) for hit in found["hits"])
    missed = tuple(MissedNote(**note) for note in found["missed"])
    if exercise is not None and tempo is not None:
        stretches = stretches_of(hits, missed, exercise, tempo)
        hits = tuple(replace(hit, stretch=s) for hit, s in zip(hits, stretches, strict=True))
    ambiguity, unlike, warnings = remarks_of(found)
    return Heard(
        hits=hits,
        missed=missed,
        extra=tuple(extra_of(hit) for hit in found["extra"]),
        clicks_s=tuple(float(click["time_s"]) for click in found["clicks"]),
        clock=found["clock"],
        tempo_bpm=None if tempo is None else _tempo_bpm(hits, tempo),
        ambiguity=ambiguity,
        unlike=unlike,
        warnings=warnings,
        begins_at_s=found.get("begins_at_s"),
    )


def extra_of(found: Json) -> ExtraHit:
    """Read one extra hit; those of earlier takes were all between the notes."""
    return ExtraHit(float(found["time_s"]), float(found["level_db"]), found.get("reason", "between"))


def hit_of(found: Json, exercise: Exercise | None) -> Hit:
    """Read one hit; its written time is worked out of its repetition and its position."""
    written = None
    if exercise is not None and found["repetition"] is not None:
        top = (int(found["repetition"]) - 1) * exercise.length
        written = float(top + exercise.starts[int(found["position"])])
    return Hit(
        time_s=float(found["time_s"]),
        level_db=float(found["level_db"]),
        confidence=float(found["confidence"]),
        hand=found["hand"],
        repetition=found["repetition"],
        position=found["position"],
        grace=bool(found["grace"]),
        asynchrony_ms=found["asynchrony_ms"],
        deviation_ms=found["deviation_ms"],
        written=written,
    )


def _tempo_bpm(hits: tuple[Hit, ...], tempo: Tempo) -> float | None:
    """Return the tempo played: the slope of time over written time, pooled over the stretches."""
    top = bottom = 0.0
    for stretch in {hit.stretch for hit in hits}:
        told = [
            (hit.written, hit.time_s)
            for hit in hits
            if hit.stretch == stretch and not hit.grace and hit.written is not None
        ]
        if len(told) < 2:
            continue
        mean_w, mean_t = fmean(w for w, _ in told), fmean(t for _, t in told)
        top += sum((w - mean_w) * (t - mean_t) for w, t in told)
        bottom += sum((w - mean_w) ** 2 for w, _ in told)
    if top <= 0 or bottom <= 0:
        return None
    return 60.0 / (top / bottom * float(tempo.beat))


def _measures(found: Json, exercise: Exercise, tempo: Tempo) -> Measures:
    keeper = found["timekeeper"]
    bpm = figure_of(found["tempo_bpm"])
    return Measures(
        tempo_bpm=bpm,
        drift_bpm_per_min=figure_of(found["drift_bpm_per_min"]),
        hands={
            cast("Hand", hand): _hand(of_hand, (keeper or {}).get("hand_sd_ms", {}).get(hand))
            for hand, of_hand in found["hands"].items()
        },
        balance_level_db=figure_of(found["balance"]["level_db"]),
        balance_timing_ms=figure_of(found["balance"]["timing_ms"]),
        doubles={
            cast("Hand", hand): DoubleMeasures(
                figure_of(of_hand["second_minus_first_db"]), figure_of(of_hand["short_share"])
            )
            for hand, of_hand in found["doubles"].items()
        },
        accents_over_taps_db={
            cast("Hand", hand): figure_of(of_hand["over_taps_db"])
            for hand, of_hand in found["accents"].items()
        },
        graces={
            cast("Hand", hand): GraceMeasures(figure_of(of_hand["gap_ms"]), figure_of(of_hand["level_db"]))
            for hand, of_hand in found["graces"].items()
        },
        spread_trend_ms_per_min=_maybe(found["fatigue"]["spread_trend_ms_per_min"]),
        level_trend_db_per_min=_maybe(found["fatigue"]["level_trend_db_per_min"]),
        timekeeper_sd_ms=_maybe(keeper["timekeeper_sd_ms"]) if keeper else None,
        positions=tuple(_position(position) for position in found["positions"]),
        interval_ms=_interval_ms(exercise, bpm.value or tempo.bpm, tempo) if found["hits"] else None,
    )


def _hand(found: Json, hand_sd: Json | None) -> HandMeasures:
    return HandMeasures(
        timing_mean_ms=figure_of(found["timing_mean_ms"]),
        timing_sd_ms=figure_of(found["timing_sd_ms"]),
        interval_sd_ms=figure_of(found["interval_sd_ms"]),
        level_mean_db=figure_of(found["level_mean_db"]),
        level_sd_db=figure_of(found["level_sd_db"]),
        hand_sd_ms=_maybe(hand_sd),
    )


def _position(found: Json) -> PositionMeasures:
    return PositionMeasures(
        position=int(found["position"]),
        hand=found["hand"],
        timing_ms=figure_of(found["timing_ms"]),
        level_db=figure_of(found["level_db"]),
        missed=int(found["missed"]),
    )


def _maybe(found: Json | None) -> Measure | None:
    return None if found is None else figure_of(found)


def _interval_ms(exercise: Exercise, bpm: float, tempo: Tempo) -> float | None:
    """Return the median time between neighbouring notes at the tempo played."""
    starts = [float(exercise.starts[p]) for p in exercise.struck]
    if not starts:
        return None
    steps = [b - a for a, b in pairwise([*starts, starts[0] + float(exercise.length)])]
    return median(steps) * 60_000.0 / (bpm * float(tempo.beat))
