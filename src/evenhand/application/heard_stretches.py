"""Which hits of a stored take belong to one unbroken stretch of playing.

A stop opens a stretch, and a stretch opens a repetition. Notes that were passed over inside a stretch
are told as missed; so where notes between two hits are not, playing broke off there. Where the player
stopped just at a repetition's end, only the time between tells.

Conventions: notes are numbered through the take, rests left out; seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from evenhand.domain.exercise import Exercise
from evenhand.domain.heard import Hit, MissedNote
from evenhand.domain.tempo import Tempo

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
