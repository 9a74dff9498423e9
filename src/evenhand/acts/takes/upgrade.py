"""Documents of listen-1, which an earlier version wrote, as documents of listen-2.

Conventions: what listen-1 left out is worked out of what it has: written times, the unbroken stretches of
playing, the tempo played; its findings and remarks stay in the words that it stored.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median

from evenhand.acts.documents import Json
from evenhand.acts.takes.request import TakeRequest
from evenhand.measuring.values import typical_interval_ms
from evenhand.music.exercise import Exercise

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
