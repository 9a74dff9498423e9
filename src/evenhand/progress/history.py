"""A student's history: the takes of some weeks, each with its day, what was asked, and what was measured.

Conventions: measures go by their place in the JSON of a heard take (docs/json.md), dots
between: ``hands.R.timing_sd_ms``, ``balance.level_db``, ``doubles.L.second_minus_first_db``,
``tempo_bpm``. Takes are in order of their day, and of the table within a day.

What a past take says: how far apart its notes came, and its figures by hand.

Conventions: a measure goes by its place in the take's JSON; tempos are turned into notes a minute.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from evenhand.measuring.values import Finding, Measure, audible_ms, typical_interval_ms
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.progress.ceiling.control import TriedRepetition


@dataclass(frozen=True, slots=True)
class PastTake:
    """One take of an exercise. ``clear`` is False where it does not tell which hand is which."""

    day: date
    name: str
    exercise: Exercise
    tempo: Tempo
    stroke: StrokeClass | None
    seconds: float
    strokes: Mapping[str, int]  # by hand: how many hits
    measures: Mapping[str, Measure]
    tried: tuple[TriedRepetition, ...]
    findings: tuple[Finding, ...]
    clear: bool = True


@dataclass(frozen=True, slots=True)
class PastBounce:
    """One take of the bounce test."""

    day: date
    name: str
    drops: tuple[HeardDrop, ...]


@dataclass(frozen=True, slots=True)
class History:
    """What is known of one student. ``left_out`` says which takes told nothing, and why."""

    takes: tuple[PastTake, ...] = ()
    bounces: tuple[PastBounce, ...] = ()
    left_out: tuple[str, ...] = field(default=())
    student: str = ""


def played_bpm(take: PastTake) -> float:
    """Return the tempo played, or the one asked for where none was measured."""
    measured = take.measures.get("tempo_bpm")
    return take.tempo.bpm if measured is None or not measured.value else measured.value


def audible_in(take: PastTake) -> float:
    """Return the smallest displacement that is heard at a take's tempo, ms."""
    if not take.exercise.struck:
        return audible_ms(None)
    return audible_ms(typical_interval_ms(take.exercise, played_bpm(take), take.tempo.beat))
