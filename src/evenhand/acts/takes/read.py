"""A take's stored JSON (docs/json.md), read back as the heard take that the pages draw.

Conventions: as in ``as_json``; figures are those that were stored, rounded as they were. What the
JSON does not hold is worked out of what it does: the stretches (``heard_stretches``), written
times, the tempo played, the typical interval.

Which hits of a stored take belong to one unbroken stretch of playing.

A stop opens a stretch, and a stretch opens a repetition. Notes that were passed over inside a stretch
are told as missed; so where notes between two hits are not, playing broke off there. Where the player
stopped just at a repetition's end, only the time between tells.

Conventions: notes are numbered through the take, rests left out; seconds.

A heard take's JSON, read back as a take of a student's history.

What the device that recorded a take knows of it: when it counted in, and when its click sounded.

A click in headphones is not in the recording, so the ear has only the take's own tempo to judge by, and
where all notes sound alike it cannot tell which was the first. But the device knows when it gave out each
click and, once it was measured, how much later sound comes back through its microphone. So

- a take that begins where the count-in ended begins with the exercise's first note;
- a hit's asynchrony is its time less its note's, less the device's delay.

Conventions: ``first_note_s`` is when the first note was due on the device's own clock, in seconds of the
recording; ms, negative = early.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby, pairwise
from statistics import fmean, median
from typing import Any, cast

from evenhand.acts.takes.document import PLACES, SCHEMA_ID, figure_of, finding_of, remarks_of
from evenhand.errors import WrongUse
from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
from evenhand.measuring.values import (
    DoubleMeasures,
    Finding,
    GraceMeasures,
    HandMeasures,
    HeardTake,
    Measure,
    Measures,
    PositionMeasures,
)
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise
from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.history import PastTake
from evenhand.take import ExtraHit, Heard, Hit, InputFacts, MissedNote

TIMING_S, TIMING_SHARE = 0.007, 0.03  # how far a note may stray, and the share of the shortest interval
BREAK = 8.0  # so many times that is no straying: half of what the ear itself takes for a stop


def stretches_of(
    hits: Sequence[Hit], missed: Sequence[MissedNote], exercise: Exercise, tempo: Tempo
) -> list[int]:
    """Return the number of each hit's stretch, from 0."""
    mains = [hit for hit in hits if not hit.grace and hit.repetition is not None]
    opens = _opened(mains, missed, exercise, tempo)
    of_note = {(hit.repetition, hit.position): number for hit, number in zip(mains, opens, strict=True)}
    out: list[int] = []
    for hit in hits:  # a grace note whose main note was not heard goes on where the last hit was
        out.append(of_note.get((hit.repetition, hit.position), out[-1] if out else 0))
    return out


def _opened(
    mains: Sequence[Hit], missed: Sequence[MissedNote], exercise: Exercise, tempo: Tempo
) -> list[int]:
    """Give each main hit the number of its stretch."""
    if not mains:
        return []
    number = {position: i for i, position in enumerate(exercise.struck)}
    m = len(exercise.struck)
    told = {((note.repetition - 1) * m + number[note.position]) for note in missed if not note.grace}
    at = [((hit.repetition or 1) - 1) * m + number[hit.position or 0] for hit in mains]
    most_s = BREAK * math.hypot(TIMING_S, TIMING_SHARE * _shortest(exercise) * tempo.whole_note_s)
    whole_s = _whole_note_s(mains, tempo)
    out = [0]
    for (a, first), (b, second) in pairwise(zip(mains, at, strict=True)):
        passed_over = any(note not in told for note in range(first + 1, second))
        new_time = (b.repetition or 1) > (a.repetition or 1)
        late_s = _smooth_s(b) - _smooth_s(a) - _written_between(a, b) * whole_s
        out.append(out[-1] + (new_time and (passed_over or abs(late_s) > most_s)))
    return out


def _smooth_s(hit: Hit) -> float:
    """Return where the smooth tempo has a hit."""
    return hit.time_s - (hit.deviation_ms or 0.0) / 1e3


def _written_between(a: Hit, b: Hit) -> float:
    return (b.written or 0.0) - (a.written or 0.0)


def _whole_note_s(mains: Sequence[Hit], tempo: Tempo) -> float:
    """Return how long a whole note lasted, from the middle of what neighbouring hits say."""
    said = sorted(_said(mains))
    return said[len(said) // 2] if said else tempo.whole_note_s


def _said(mains: Sequence[Hit]) -> Iterator[float]:
    for a, b in pairwise(mains):
        between = _written_between(a, b)
        if between > 0:
            yield (_smooth_s(b) - _smooth_s(a)) / between


def _shortest(exercise: Exercise) -> float:
    starts = [float(exercise.starts[i]) for i in exercise.struck]
    steps = [b - a for a, b in pairwise([*starts, starts[0] + float(exercise.length)])]
    return min((step for step in steps if step > 0), default=0.25)


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


_GROUPS = ("hands", "balance", "doubles", "accents", "graces", "fatigue", "timekeeper")
_ALONE = ("tempo_bpm", "drift_bpm_per_min")


def past_take(found: Json, day: date, stroke: StrokeClass | None) -> PastTake:
    """Read a take's JSON (docs/json.md). What it lacks raises KeyError, TypeError or ValueError."""
    exercise = parse_exercise(found["exercise"])
    tempo = Tempo.parse(found["tempo"])
    heard = _past_take_heard(found, exercise)
    hands = [hit.hand for hit in heard.hits]
    return PastTake(
        day=day,
        name=str(found["name"]),
        exercise=exercise,
        tempo=tempo,
        stroke=stroke,
        seconds=_played_s(heard),
        strokes={hand: hands.count(hand) for hand in ("R", "L") if hand in hands},
        measures=dict(_past_take_measures(found)),
        tried=_tried(heard, exercise, tempo, str(found["name"])),
        findings=tuple(finding_of(finding) for finding in found["findings"]),
        clear=heard.ambiguity is None and heard.unlike is None,
    )


def _past_take_heard(found: Json, exercise: Exercise) -> Heard:
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
    from evenhand.progress.ceiling.control import tried_repetitions

    return tuple(tried_repetitions(heard, exercise, tempo, take=take))


def _played_s(heard: Heard) -> float:
    """Return the seconds from the first hit to the last."""
    return heard.hits[-1].time_s - heard.hits[0].time_s if heard.hits else 0.0


def _past_take_measures(found: Json) -> Iterator[tuple[str, Measure]]:
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


EARLIEST_S, LATEST_S = 0.12, 0.12  # how far from its moment the first note may be, beside the delay
MOST_DELAY_S = 0.35  # of a device that was not measured (phones: common practice)
HEADPHONES = "headphones"


def known_by_device(take: HeardTake, facts: Mapping[str, str], latency_ms: float | None) -> HeardTake:
    """Return a take with what its device knows: ``facts`` came with it (``click``, ``first_note_s``)."""
    first_note_s = _seconds(facts.get("first_note_s", ""))
    if first_note_s is None or take.exercise is None or take.tempo is None:
        return take
    if take.heard.ambiguity and _begins_when_due(take, first_note_s, latency_ms):
        take = _judged(replace(take, heard=replace(take.heard, ambiguity=None)))
    if facts.get("click") == HEADPHONES and latency_ms is not None:
        return judged_by_click(take, first_note_s=first_note_s, latency_ms=latency_ms)
    return take


def judged_by_click(take: HeardTake, *, first_note_s: float, latency_ms: float) -> HeardTake:
    """Return a take with every note's asynchrony to its click, measured and judged by it.

    A stretch of playing may begin some beats late: the whole number of beats that lies nearest is taken
    off. A take that is judged by a click in the recording already, or was heard blind, stays as it is; so
    does one that the ear does not take for the exercise.
    """
    tempo = take.tempo
    if tempo is None or take.exercise is None or take.heard.clock == "click" or take.heard.unlike:
        return take
    if not _mains(take.heard.hits):
        return take
    due_s = first_note_s + latency_ms / 1e3
    stretches = groupby(take.heard.hits, key=lambda hit: hit.stretch)
    hits = tuple(hit for _, group in stretches for hit in _against(list(group), tempo, due_s))
    return _judged(replace(take, heard=replace(take.heard, hits=hits, clock="click")))


def _judged(take: HeardTake) -> HeardTake:
    """Measure and judge a take anew."""
    if take.exercise is None or take.tempo is None:
        return take
    measures = measure(take.heard, take.exercise, take.tempo)
    findings = find(take.heard, measures, take.exercise, take.tempo)
    return replace(take, measures=measures, findings=findings)


def _begins_when_due(take: HeardTake, first_note_s: float, latency_ms: float | None) -> bool:
    """Tell whether the first hit is taken for the first note, and came when that was due."""
    mains = _mains(take.heard.hits)
    if not mains or take.exercise is None or mains[0].position != take.exercise.struck[0]:
        return False
    if mains[0].repetition != 1:
        return False
    late_s = mains[0].time_s - first_note_s
    if latency_ms is not None:
        return -EARLIEST_S <= late_s - latency_ms / 1e3 <= LATEST_S
    return -EARLIEST_S <= late_s <= MOST_DELAY_S + LATEST_S


def _against(hits: Sequence[Hit], tempo: Tempo, due_s: float) -> Iterator[Hit]:
    """Give one stretch's hits their asynchronies."""
    mains = _mains(hits)
    raw_s = [hit.time_s - due_s - (hit.written or 0.0) * tempo.whole_note_s for hit in mains]
    late_s = tempo.beat_s * round(median(raw_s) / tempo.beat_s) if raw_s else 0.0
    told = {id(hit): (raw - late_s) * 1e3 for hit, raw in zip(mains, raw_s, strict=True)}
    for hit in hits:
        yield replace(hit, asynchrony_ms=told[id(hit)]) if id(hit) in told else hit


def _mains(hits: Sequence[Hit]) -> list[Hit]:
    """Return the hits that are notes of the exercise, graces left out."""
    return [hit for hit in hits if hit.written is not None and not hit.grace]


def _seconds(text: str) -> float | None:
    try:
        seconds = float(text)
    except ValueError:
        return None
    return seconds if math.isfinite(seconds) and seconds >= 0 else None
