"""Which repetitions of a take were in control, and the tempo ceiling that several takes show, as values.

A repetition is laid on its own straight pulse (least squares of time against written time), so that a tempo
which steps from one repetition to the next is no fault in either. It is in control where its spread about
that pulse, both hands together, is less than an ear can tell at its tempo, no note was missed and no hit was
extra. Where an exercise has few notes, neighbouring repetitions are judged together.

Conventions: tempos are beats a minute in the beat of the list they came from; spreads are root mean squares.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from evenhand.arrays import Floats
from evenhand.measuring.values import Measure, audible_ms
from evenhand.music.exercise import Exercise, Hand, Tempo, bpm_of
from evenhand.take import Heard, Hit, Remark


@dataclass(frozen=True, slots=True)
class TriedRepetition:
    """One repetition that was played: how fast, how uneven, and whether that is in control.

    ``spread_ms`` is what its hits stray from their own straight pulse (root mean
    square), ``audible_ms`` what an ear can tell at that tempo. ``hands`` says for each
    hand whether it was in control. ``lost`` counts notes missed and hits too many.
    """

    take: str
    repetition: int
    tempo_bpm: float
    spread_ms: float | None
    audible_ms: float
    lost: int
    controlled: bool
    hands: Mapping[Hand, bool]


@dataclass(frozen=True, slots=True)
class TempoCeiling:
    """The ceiling of one exercise, for both hands together and each alone.

    A measure's value is None where the tempos tried do not bound it; ``at_least_bpm``
    and ``at_most_bpm`` then say what they do tell. ``next_tempo_bpm`` is what to try
    next, None where ``enough`` is known. ``curve`` gives tempo, chance of control and
    its 95 % range; it is empty until it is to be drawn.
    """

    beat: Fraction
    ceiling: Measure
    hands: Mapping[Hand, Measure]
    tried: tuple[TriedRepetition, ...]
    next_tempo_bpm: float | None
    enough: bool
    why: Remark
    at_least_bpm: float | None = None
    at_most_bpm: float | None = None
    curve: tuple[tuple[float, float, float, float], ...] = ()


FEWEST_NOTES = 6  # judged together; a line through fewer says little of their spread
FEWEST_OF_A_HAND = 2


def tried_repetitions(heard: Heard, exercise: Exercise, tempo: Tempo, *, take: str) -> list[TriedRepetition]:
    """Judge each whole repetition of a take.

    A take that fits two alignments, or that does not sound like the exercise, has none.
    A repetition that was broken off, and the first or last that was not played whole, is left out.
    """
    if not (heard.clear and exercise.struck):
        return []
    together = math.ceil(FEWEST_NOTES / len(exercise.struck))
    whole = _whole_ones(heard, exercise)
    groups = _grouped(whole, together)
    return [_judged(group, heard, exercise, tempo, take) for group in groups]


def _whole_ones(heard: Heard, exercise: Exercise) -> list[tuple[int, list[Hit]]]:
    """Return (repetition, hits) of those played to their end in one stretch, in order."""
    by_repetition: dict[int, list[Hit]] = {}
    for hit in heard.hits:
        if hit.repetition is not None and not hit.grace and hit.written is not None:
            by_repetition.setdefault(hit.repetition, []).append(hit)
    unheard: dict[int, int] = {}
    for note in (*heard.missed, *heard.hidden):
        if not note.grace:
            unheard[note.repetition] = unheard.get(note.repetition, 0) + 1
    return [
        (repetition, hits)
        for repetition, hits in sorted(by_repetition.items())
        if len(hits) + unheard.get(repetition, 0) == len(exercise.struck)
        and len({hit.stretch for hit in hits}) == 1
    ]


def _grouped(
    whole: Sequence[tuple[int, list[Hit]]], together: int
) -> Iterator[tuple[tuple[int, ...], list[Hit]]]:
    """Put so many neighbouring repetitions of one stretch together; what is left over is dropped."""
    repetitions: list[int] = []
    hits: list[Hit] = []
    for repetition, of_it in whole:
        broken = repetitions and (repetition != repetitions[-1] + 1 or of_it[0].stretch != hits[-1].stretch)
        if broken:
            repetitions, hits = [], []
        repetitions = [*repetitions, repetition]
        hits = [*hits, *of_it]
        if len(repetitions) == together:
            yield tuple(repetitions), hits
            repetitions, hits = [], []


def _judged(
    group: tuple[tuple[int, ...], list[Hit]], heard: Heard, exercise: Exercise, tempo: Tempo, take: str
) -> TriedRepetition:
    """Judge one repetition, or a few together."""
    repetitions, hits = group
    time_s = np.array([hit.time_s for hit in hits])
    lost = len(exercise.struck) * len(repetitions) - len(hits) + _too_many(heard, time_s)
    line = _own_pulse(time_s, np.array([hit.written for hit in hits])) if len(hits) > 2 else None
    whole_note_s = line[0] if line is not None else tempo.whole_note_s
    audible = audible_ms(1e3 * whole_note_s * float(exercise.length) / len(exercise.struck))
    strays_ms = 1e3 * line[1] if line is not None else None
    spread = _spread(strays_ms, len(hits)) if strays_ms is not None else None
    return TriedRepetition(
        take=take,
        repetition=repetitions[0],
        tempo_bpm=bpm_of(whole_note_s, tempo.beat),
        spread_ms=spread,
        audible_ms=audible,
        lost=lost,
        controlled=lost == 0 and spread is not None and spread < audible,
        hands=_by_hand(hits, strays_ms, exercise, len(repetitions), audible),
    )


def _own_pulse(time_s: Floats, written: Floats) -> tuple[float, Floats]:
    """Fit a straight pulse: seconds a whole note, and how far each hit strays from it, seconds."""
    slope, at_top = np.polyfit(written - written[0], time_s - time_s[0], 1)
    strays = (time_s - time_s[0]) - (slope * (written - written[0]) + at_top)
    return float(slope), np.asarray(strays)


def _spread(strays_ms: Floats, n: int) -> float:
    """Return the root mean square with the two that the line took given back."""
    return float(np.sqrt(np.sum(strays_ms**2) / (n - 2)))


def _by_hand(
    hits: Sequence[Hit], strays_ms: Floats | None, exercise: Exercise, times: int, audible: float
) -> dict[Hand, bool]:
    """Say for each hand of the exercise whether it was in control; nothing for one with too few notes."""
    out: dict[Hand, bool] = {}
    n = len(hits)
    for hand in sorted({note.hand for note in exercise.notes if note.hand}):
        written = times * sum(note.hand == hand for note in exercise.notes)
        if written < FEWEST_OF_A_HAND:
            continue
        own = np.array([hit.hand == hand for hit in hits])
        if strays_ms is None or own.sum() < written:
            out[hand] = False
            continue
        given_back = own.sum() * (n - 2) / n
        out[hand] = bool(np.sqrt(np.sum(strays_ms[own] ** 2) / given_back) < audible)
    return out


def _too_many(heard: Heard, time_s: Floats) -> int:
    """Count the hits among these that no note accounts for."""
    if not len(time_s):
        return 0
    return sum(bool(time_s[0] <= extra.time_s <= time_s[-1]) for extra in heard.extra)
