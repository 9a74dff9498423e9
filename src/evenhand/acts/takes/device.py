"""What the device that recorded a take knows of it: when it counted in, and when its click sounded.

A click in headphones is not in the recording, so the ear has only the take's own tempo to judge by, and
where all notes sound alike it cannot tell which was the first. But the device knows when it gave out each
click and, once it was measured, how much later sound comes back through its microphone. So

- a take that begins where the count-in ended begins with the exercise's first note;
- a hit's asynchrony is its time less its note's, less the device's delay.

Conventions: times in seconds of the recording; ms, negative = early.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import median

from evenhand.acts.takes.request import RecordingDevice
from evenhand.music.exercise import Exercise, Tempo
from evenhand.take import Heard, Hit

EARLIEST_S, LATEST_S = 0.12, 0.12  # how far from its moment the first note may be, beside the delay
MOST_DELAY_S = 0.35  # of a device that was not measured (phones: common practice)


def known_by_device(heard: Heard, exercise: Exercise, tempo: Tempo, device: RecordingDevice) -> Heard:
    """Return what was heard with what the device knows."""
    if heard.ambiguity and _begins_when_due(heard, exercise, device):
        heard = replace(heard, ambiguity=None)
    if device.headphones and device.latency_ms is not None:
        return against_click(heard, tempo, device.first_note_s + device.latency_ms / 1e3)
    return heard


def against_click(heard: Heard, tempo: Tempo, due_s: float) -> Heard:
    """Return what was heard with every note's asynchrony to its click; the first is due at ``due_s``.

    A stretch of playing may begin some beats late: the whole number of beats that lies nearest is taken
    off. A take that is judged by a click in the recording already, or was heard blind, stays as it is; so
    does one that the ear does not take for the exercise.
    """
    if heard.clock == "click" or heard.unlike or not _mains(heard.hits):
        return heard
    stretches = groupby(heard.hits, key=lambda hit: hit.stretch)
    hits = tuple(hit for _, group in stretches for hit in _timed(list(group), tempo, due_s))
    return replace(heard, hits=hits, clock="click")


def _begins_when_due(heard: Heard, exercise: Exercise, device: RecordingDevice) -> bool:
    """Tell whether the first hit is taken for the first note, and came when that was due."""
    first = next(iter(_mains(heard.hits)), None)
    if first is None or (first.repetition, first.position) != (1, exercise.struck[0]):
        return False
    late_s = first.time_s - device.first_note_s
    if device.latency_ms is not None:
        return -EARLIEST_S <= late_s - device.latency_ms / 1e3 <= LATEST_S
    return -EARLIEST_S <= late_s <= MOST_DELAY_S + LATEST_S


def _timed(hits: Sequence[Hit], tempo: Tempo, due_s: float) -> Iterator[Hit]:
    """Give one stretch's hits their asynchronies."""
    mains = _mains(hits)
    raw_s = [hit.time_s - due_s - (hit.written or 0.0) * tempo.whole_note_s for hit in mains]
    late_s = tempo.beat_s * round(median(raw_s) / tempo.beat_s) if raw_s else 0.0
    lates_ms = {id(hit): (raw - late_s) * 1e3 for hit, raw in zip(mains, raw_s, strict=True)}
    for hit in hits:
        yield replace(hit, asynchrony_ms=lates_ms[id(hit)]) if id(hit) in lates_ms else hit


def _mains(hits: Sequence[Hit]) -> list[Hit]:
    """Return the hits that are notes of the exercise, graces left out."""
    return [hit for hit in hits if hit.written is not None and not hit.grace]
