"""Judge a take against a click that only the player heard, where the device knows when it sounded.

A click in headphones is not in the recording, so the ear has only the take's own tempo to judge by. But
the device knows when it gave out each click and, once it was measured, how much later sound comes back
through its microphone. With both, a hit's asynchrony is its time less its note's, less that delay.

Conventions: ``first_note_s`` is when the exercise's first note was due on the device's own clock, in
seconds of the recording; ms, negative = early.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import median

from evenhand.domain.heard import Hit
from evenhand.domain.heard_take import HeardTake
from evenhand.domain.tempo import Tempo
from evenhand.measuring import find, measure


def judged_by_click(take: HeardTake, *, first_note_s: float, latency_ms: float) -> HeardTake:
    """Return a take with every note's asynchrony to its click, measured and judged by it.

    A stretch of playing may begin some beats late: the whole number of beats that lies nearest is taken
    off. A take that is judged by a click in the recording already, or was heard blind, stays as it is; so
    does one that the ear does not take for the exercise.
    """
    exercise, tempo = take.exercise, take.tempo
    if exercise is None or tempo is None or take.heard.clock == "click" or take.heard.unlike:
        return take
    if not any(hit.written is not None and not hit.grace for hit in take.heard.hits):
        return take
    due_s = first_note_s + latency_ms / 1e3
    stretches = groupby(take.heard.hits, key=lambda hit: hit.stretch)
    hits = tuple(hit for _, group in stretches for hit in _against(list(group), tempo, due_s))
    heard = replace(take.heard, hits=hits, clock="click")
    measures = measure(heard, exercise, tempo)
    findings = find(heard, measures, exercise, tempo)
    return replace(take, heard=heard, measures=measures, findings=findings)


def _against(hits: Sequence[Hit], tempo: Tempo, due_s: float) -> Iterator[Hit]:
    """Give one stretch's hits their asynchronies."""
    raw_s = {
        id(hit): hit.time_s - due_s - hit.written * tempo.whole_note_s
        for hit in hits
        if hit.written is not None and not hit.grace
    }
    late_s = tempo.beat_s * round(median(raw_s.values()) / tempo.beat_s) if raw_s else 0.0
    for hit in hits:
        raw = raw_s.get(id(hit))
        yield hit if raw is None else replace(hit, asynchrony_ms=(raw - late_s) * 1e3)
