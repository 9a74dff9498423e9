"""A heard take's JSON, read back as a take of a student's history."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from evenhand.application.finding_json import finding_of, remarks_of
from evenhand.application.heard_again import extra_of, hit_of
from evenhand.craft.text import parse_exercise
from evenhand.domain.ceiling import TriedRepetition
from evenhand.domain.exercise import Exercise
from evenhand.domain.heard import Heard, MissedNote
from evenhand.domain.history import PastTake
from evenhand.domain.measures import Measure
from evenhand.domain.stroke import StrokeClass
from evenhand.domain.tempo import Tempo

Json = Mapping[str, Any]
_GROUPS = ("hands", "balance", "doubles", "accents", "graces", "fatigue", "timekeeper")
_ALONE = ("tempo_bpm", "drift_bpm_per_min")


def past_take(found: Json, day: date, stroke: StrokeClass | None) -> PastTake:
    """Read a take's JSON (docs/json.md). What it lacks raises KeyError, TypeError or ValueError."""
    exercise = parse_exercise(found["exercise"])
    tempo = Tempo.parse(found["tempo"])
    heard = _heard(found, exercise)
    hands = [hit.hand for hit in heard.hits]
    return PastTake(
        day=day,
        name=str(found["name"]),
        exercise=exercise,
        tempo=tempo,
        stroke=stroke,
        seconds=_played_s(heard),
        strokes={hand: hands.count(hand) for hand in ("R", "L") if hand in hands},
        measures=dict(_measures(found)),
        tried=_tried(heard, exercise, tempo, str(found["name"])),
        findings=tuple(finding_of(finding) for finding in found["findings"]),
        clear=heard.ambiguity is None and heard.unlike is None,
    )


def _heard(found: Json, exercise: Exercise) -> Heard:
    """Rebuild what was heard, as far as a history needs it."""
    ambiguity, unlike, _ = remarks_of(found)
    return Heard(
        hits=tuple(hit_of(hit, exercise) for hit in found["hits"]),
        missed=tuple(MissedNote(**note) for note in found["missed"]),
        extra=tuple(extra_of(hit) for hit in found["extra"]),
        ambiguity=ambiguity,
        unlike=unlike,
    )


def _tried(heard: Heard, exercise: Exercise, tempo: Tempo, take: str) -> tuple[TriedRepetition, ...]:
    from evenhand.practising.control import tried_repetitions

    return tuple(tried_repetitions(heard, exercise, tempo, take=take))


def _played_s(heard: Heard) -> float:
    """Return the seconds from the first hit to the last."""
    return heard.hits[-1].time_s - heard.hits[0].time_s if heard.hits else 0.0


def _measures(found: Json) -> Iterator[tuple[str, Measure]]:
    """Give every measure with its place, dots between."""
    for place in _ALONE:
        yield from _below(place, found[place])
    for place in _GROUPS:
        yield from _below(place, found[place])


def _below(place: str, found: Any) -> Iterator[tuple[str, Measure]]:  # noqa: ANN401 - any JSON
    if not isinstance(found, dict):
        return
    if "unit" in found and "n" in found:
        ends = found.get("ci95")
        ci95 = (float(ends[0]), float(ends[1])) if ends and None not in ends else None
        yield place, Measure(found["value"], int(found["n"]), str(found["unit"]), ci95, found.get("needs"))
        return
    for key, inside in found.items():
        yield from _below(f"{place}.{key}", inside)
