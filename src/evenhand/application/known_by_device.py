"""What the device that recorded a take knows of it: when it counted in, and when its click sounded.

A click in headphones is not in the recording, so the ear has only the take's own tempo to judge by, and
where all notes sound alike it cannot tell which was the first. But the device knows when it gave out each
click and, once it was measured, how much later sound comes back through its microphone. So

- a take that begins where the count-in ended begins with the exercise's first note;
- a hit's asynchrony is its time less its note's, less the device's delay.

Conventions: ``first_note_s`` is when the first note was due on the device's own clock, in seconds of the
recording; ms, negative = early.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import median

from evenhand.domain.heard import Hit
from evenhand.domain.heard_take import HeardTake
from evenhand.domain.tempo import Tempo
from evenhand.measuring import find, measure

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
