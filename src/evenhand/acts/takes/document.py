"""A heard take as the JSON that others build on, and read back (docs/json.md, schema/listen-2.json).

Conventions: times are seconds to 0.1 microsecond, ms to 0.1 microsecond, levels dB to
0.001. There is no NaN and no infinity: one that got this far is an error of ours and raises.

Documents of listen-1, which an earlier version wrote, become documents of listen-2 first: what they left out
is worked out of what they have: written times, the unbroken stretches of playing, the tempo played; their
findings and remarks stay in the words that were stored.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from evenhand.acts.documents import DIGITS, Json, json_of, loaded, plain, read_text_file, value_of
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import BadDocument, BadExercise, BadList, BadTempo, WrongOptions
from evenhand.measuring.values import Finding, HandMeasures, HeardTake, Measure, Measures, typical_interval_ms
from evenhand.music.exercise import Exercise
from evenhand.music.strokes.heights import StrokeClass
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import all_remarks, remark_words
from evenhand.report.words.take import said_in_full
from evenhand.take import Heard, InputFacts

if TYPE_CHECKING:
    from evenhand.progress.history import PastTake


SCHEMA_ID, EARLIER_ID = "urn:evenhand:listen-2", "urn:evenhand:listen-1"
SEEN_ID = "urn:evenhand:watch-1"  # of a take that was watched, too; what was heard lies in it

TAKE_DIGITS: Mapping[str, int] = {
    **DIGITS,
    **dict.fromkeys(("ms", "bpm", "bpm/min", "ms/min", "dB/min"), 4),
    **dict.fromkeys(("dB", "db", "confidence"), 3),
    "written": 17,
}
LARGEST_BYTES = 256 * 2**20
_MUST_BE = "a JSON file written by evenhand listen --json"


def json_text(take: HeardTake) -> str:
    """Write a heard take as JSON text, ending in a line break."""
    return json_of(as_json(take))


def as_json(take: HeardTake) -> Json:
    """Turn a heard take into plain dicts, lists and numbers, in the contract's words."""
    return plain(
        {
            "schema": SCHEMA_ID,
            "version": take.version,
            "name": take.name,
            "exercise": take.exercise_text,
            "tempo": None if take.tempo is None else str(take.tempo),
            "input": take.input,
            **_heard(take.heard),
            **measures_by_place(take.measures),
            "interval_ms": None if take.measures is None else take.measures.interval_ms,
            "findings": [_finding(finding, take.exercise) for finding in take.findings],
        },
        TAKE_DIGITS,
    )


def _heard(heard: Heard) -> Json:
    """Say what was heard, in order of time; its remarks in words, and as values."""
    return {
        "ear": None if heard.ear is None else {"version": heard.ear},
        "begins_at_s": heard.begins_at_s,
        "clock": heard.clock,
        "played_bpm": heard.tempo_bpm,
        "ambiguity": None if heard.ambiguity is None else remark_words(heard.ambiguity),
        "unlike": None if heard.unlike is None else remark_words(heard.unlike),
        "warnings": all_remarks(heard.warnings),
        "remarks": {"ambiguity": heard.ambiguity, "unlike": heard.unlike, "warnings": heard.warnings},
        "hits": heard.hits,
        "missed": heard.missed,
        "hidden": heard.hidden,
        "extra": heard.extra,
        "clicks": [{"time_s": time_s} for time_s in heard.clicks_s],
    }


def measures_by_place(measures: Measures | None) -> Json:
    """Put every measure in its place in the JSON; blind, the same keys with nothing in them."""
    if measures is None:
        alone = dict.fromkeys(("tempo_bpm", "drift_bpm_per_min", "balance", "fatigue", "timekeeper"))
        return {
            **alone,
            **{group: {} for group in ("hands", "doubles", "accents", "graces")},
            "positions": [],
        }
    keeper = measures.timekeeper_sd_ms
    hand_sd_ms = {hand: of_hand.hand_sd_ms for hand, of_hand in measures.hands.items()}
    return {
        "tempo_bpm": measures.tempo_bpm,
        "drift_bpm_per_min": measures.drift_bpm_per_min,
        "hands": {hand: _of_hand(of_hand) for hand, of_hand in measures.hands.items()},
        "balance": {"level_db": measures.balance_level_db, "timing_ms": measures.balance_timing_ms},
        "doubles": measures.doubles,
        "accents": {hand: {"over_taps_db": over} for hand, over in measures.accents_over_taps_db.items()},
        "graces": measures.graces,
        "fatigue": {
            "spread_trend_ms_per_min": measures.spread_trend_ms_per_min,
            "level_trend_db_per_min": measures.level_trend_db_per_min,
        },
        "timekeeper": None if keeper is None else {"timekeeper_sd_ms": keeper, "hand_sd_ms": hand_sd_ms},
        "positions": measures.positions,
    }


def _of_hand(hand: HandMeasures) -> Json:
    """Give one hand's measures, but for that of the two-level model, which stands with the timekeeper's."""
    return {each.name: getattr(hand, each.name) for each in fields(hand) if each.name != "hand_sd_ms"}


def _finding(finding: Finding, exercise: Exercise | None) -> Json:
    """Give one finding, in words and as values."""
    words = {"text": finding_words(finding, exercise), "remedy": remedy_words(finding, exercise)}
    return {**{each.name: getattr(finding, each.name) for each in fields(finding)}, **words}


def heard_take_of(text: str | bytes) -> HeardTake:
    """Read a heard take back, figures as they were stored; of one that was watched, what was heard.

    Raises
    ------
    BadDocument
        Where the text is not the JSON of a heard take.
    """
    return heard_take_from(document_of(text))


def ear_in(text: str | bytes) -> int:
    """Tell which ear heard what is in a take's document; 0 where that is not said, or cannot be read."""
    try:
        found = document_of(text)
    except BadDocument:
        return 0
    heard = found.get("heard", {}) if found.get("schema") == SEEN_ID else found
    ear = heard.get("ear") if isinstance(heard, dict) else None
    version = ear.get("version") if isinstance(ear, dict) else None
    return version if isinstance(version, int) else 0


def document_of(text: str | bytes) -> Json:
    """Read a take's document as plain values; empty where it holds no fields."""
    try:
        found = loaded(text)
    except ValueError as error:
        raise damaged("a file that is not JSON") from error
    return found if isinstance(found, dict) else {}


def heard_take_from(found: Json) -> HeardTake:
    """Read a heard take from its document; errors as of ``heard_take_of``."""
    schema = found.get("schema")
    if schema == SEEN_ID and isinstance(found.get("heard"), dict):
        found = found["heard"]
        schema = found.get("schema")
    if schema not in (SCHEMA_ID, EARLIER_ID):
        got = "JSON without a schema" if schema is None else f"JSON of the schema {schema!r}"
        raise damaged(got)
    try:
        request = TakeRequest.read(found["exercise"], found["tempo"])
        if schema == EARLIER_ID:
            found = upgraded(found, request)
        take = _take(found, request)
        said_in_full(take)  # what a page could not say is damaged, and is refused here
    except BadExercise as error:
        raise damaged(f"the exercise {error.text!r}", error.must_be) from error
    except BadTempo as error:
        raise damaged(f"the tempo {error.got}", error.must_be) from error
    except WrongOptions as error:
        raise damaged(error.got, error.must_be) from error
    except KeyError as error:
        raise damaged(f"one without {error}") from error
    except (TypeError, ValueError, IndexError, AttributeError) as error:
        raise damaged(f"a damaged one ({error})") from error
    return take


def heard_take_in(path: Path, must_be: str = _MUST_BE) -> HeardTake:
    """Read a heard take's file, or say what it is instead.

    Raises
    ------
    BadList
        Naming the file.
    """
    text = read_text_file(path, error=BadList, largest_bytes=LARGEST_BYTES, must_be=must_be)
    try:
        return heard_take_of(text)
    except BadDocument as error:
        raise BadList(where=str(path), got=error.got, must_be=error.must_be) from error


def _take(found: Json, request: TakeRequest) -> HeardTake:
    remarks = found["remarks"]
    clicks_s = [click["time_s"] for click in found["clicks"]]
    heard = {**found, **remarks, "clicks_s": clicks_s, "tempo_bpm": found["played_bpm"]}
    heard["ear"] = (found.get("ear") or {}).get("version")
    return HeardTake(
        input=value_of({**found["input"], "rate_hz": found["input"]["rate"]}, InputFacts),
        exercise=request.exercise,
        exercise_text=request.exercise_text,
        tempo=request.tempo,
        heard=value_of(heard, Heard),
        measures=None if found["tempo_bpm"] is None else value_of(_measures(found), Measures),
        findings=value_of(found["findings"], tuple[Finding, ...]),
        name=str(found["name"]),
        version=str(found["version"]),
    )


def _measures(found: Json) -> Json:
    """Give the measures under the names of the domain."""
    keeper = found["timekeeper"] or {"timekeeper_sd_ms": None, "hand_sd_ms": {}}
    return {
        **found,
        **found["fatigue"],
        "balance_level_db": found["balance"]["level_db"],
        "balance_timing_ms": found["balance"]["timing_ms"],
        "accents_over_taps_db": {hand: each["over_taps_db"] for hand, each in found["accents"].items()},
        "timekeeper_sd_ms": keeper["timekeeper_sd_ms"],
        "hands": {
            hand: {**each, "hand_sd_ms": keeper["hand_sd_ms"].get(hand)}
            for hand, each in found["hands"].items()
        },
    }


def damaged(got: str, must_be: str = _MUST_BE) -> BadDocument:
    """Say that a take's document cannot be read."""
    return BadDocument(where="a heard take's JSON", got=got, must_be=must_be)


def past_take(take: HeardTake, day: date, stroke: StrokeClass | None) -> PastTake:
    """Take a heard take as one of a student's history.

    Raises
    ------
    BadDocument
        Where it was heard blind.
    """
    if take.exercise is None or take.tempo is None:
        raise damaged("one without exercise and tempo", "one with both")
    from evenhand.progress.ceiling.control import tried_repetitions
    from evenhand.progress.history import PastTake

    heard = take.heard
    hands = [hit.hand for hit in heard.hits]
    return PastTake(
        day=day,
        name=take.name,
        exercise=take.exercise,
        tempo=take.tempo,
        stroke=stroke,
        seconds=heard.hits[-1].time_s - heard.hits[0].time_s if heard.hits else 0.0,
        strokes={hand: hands.count(hand) for hand in ("R", "L") if hand in hands},
        measures=measures_with_places(take.measures),
        tried=tuple(tried_repetitions(heard, take.exercise, take.tempo, take=take.name)),
        findings=take.findings,
        clear=heard.clear,
    )


def measures_with_places(measures: Measures | None) -> dict[str, Measure]:
    """Give every measure of a hand or of both by its place in the JSON, dots between."""
    return dict(_with_places(measures_by_place(measures)))


def _with_places(found: object, place: str = "") -> Iterator[tuple[str, Measure]]:
    """Walk what lies in a measure's group."""
    if isinstance(found, Measure):
        yield place, found
    elif is_dataclass(found):
        yield from _with_places({each.name: getattr(found, each.name) for each in fields(found)}, place)
    elif isinstance(found, Mapping):
        for key, inside in found.items():
            yield from _with_places(inside, f"{place}.{key}" if place else key)


_NEXT_SENTENCE = re.compile(r"(?<=[.!?]) (?=[A-Z])")  # in what listen-1 has of a finding


def upgraded(found: Json, request: TakeRequest) -> Json:
    """Turn a document of listen-1, which left out some of what was heard, into one of listen-2."""
    exercise, tempo = request.exercise, request.tempo
    remarks = {key: _in_words(found[key]) for key in ("ambiguity", "unlike")}
    warnings = [_in_words(each) for each in found["warnings"]]
    findings = [
        {
            **each,
            "question": _question(each),
            "remark": _finding_in_words(each),
        }
        for each in found["findings"]
    ]
    out = {
        "remarks": {**remarks, "warnings": warnings},
        "played_bpm": None,
        "interval_ms": None,
        **found,
        "findings": findings,
    }
    if exercise is None or tempo is None or not found["hits"]:
        return out
    out["played_bpm"] = found["tempo_bpm"]["value"]
    out["interval_ms"] = typical_interval_ms(exercise, out["played_bpm"] or tempo.bpm, tempo.beat)
    if any(hit["repetition"] is None for hit in found["hits"]):  # it does not sound like the exercise
        return out
    hits = [
        {**hit, "written": float(exercise.written(hit["repetition"], hit["position"]))}
        for hit in found["hits"]
    ]
    return {**out, "hits": list(_with_stretches(hits, found["missed"], exercise))}


_BY_SIGN = {"balance.timing_ms": ("late_hand", "late_hand"), "drift_bpm_per_min": ("hurrying", "dragging")}
_QUESTIONS = {
    "timing_sd_ms": "wandering_hand",
    "level_trend_db_per_min": "tiring",
    "level_db": "weak_hand",
    "second_minus_first_db": "weak_second",
    "short_share": "uneven_double",
    "over_taps_db": "accents_flat",
}


def _question(finding: Json) -> str | None:
    """Name what a finding of listen-1 left open, by its measure; None where that is nothing."""
    evidence = finding["evidence"]
    if finding["kind"] != "cannot_tell" or evidence is None:
        return None
    if evidence["measure"] in _BY_SIGN:
        return _BY_SIGN[evidence["measure"]][evidence["value"] < 0]
    return _QUESTIONS.get(evidence["measure"].rpartition(".")[2])


def _finding_in_words(found: Json) -> Json:
    first, *rest = _NEXT_SENTENCE.split(found["text"], maxsplit=1)
    facts = {"text": first, "then": " ".join(rest), "remedy": found["remedy"]}
    return {"kind": "written", "facts": facts}


def _in_words(text: str | None) -> Json | None:
    return None if text is None else {"kind": "written", "facts": {"text": text}}


def _with_stretches(hits: Sequence[Json], missed: Sequence[Json], exercise: Exercise) -> Iterator[Json]:
    """Tell the unbroken stretches of a take of listen-1.

    A stretch opens a repetition, where the smooth tempo does not lead up to it, or where notes before it
    were neither heard nor missed. A grace note goes with its own note, else with the hit before.
    """
    many, order = len(exercise.struck), {position: i for i, position in enumerate(exercise.struck)}

    def number(note: Json) -> int:
        return int((note["repetition"] - 1) * many + order[note["position"]])

    passed = {number(note) for note in missed if not note["grace"]}
    mains = [hit for hit in hits if not hit["grace"]]
    smooth_s = [hit["time_s"] - (hit["deviation_ms"] or 0.0) / 1e3 for hit in mains]
    steps = [
        (b - a, y["written"] - x["written"]) for (a, x), (b, y) in pairwise(zip(smooth_s, mains, strict=True))
    ]
    whole_s = median([apart_s / written for apart_s, written in steps if written > 0] or [0.0])
    off_s = exercise.usual_step * whole_s / 2
    stretch = 0
    of_note = {number(hit): 0 for hit in mains[:1]}
    for (before, hit), (apart_s, written) in zip(pairwise(mains), steps, strict=True):
        skipped = not passed.issuperset(range(number(before) + 1, number(hit)))
        opens = hit["repetition"] > before["repetition"]
        stretch += opens and (skipped or abs(apart_s - written * whole_s) > off_s)
        of_note[number(hit)] = stretch
    stretch = 0
    for hit in hits:
        stretch = of_note.get(number(hit), stretch)
        yield {**hit, "stretch": stretch}
