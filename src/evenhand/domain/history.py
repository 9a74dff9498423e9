"""A student's history: the takes of some weeks, each with its day, what was asked, and what was measured.

Conventions: measures go by their place in the JSON of a heard take (docs/json.md), dots
between: ``hands.R.timing_sd_ms``, ``balance.level_db``, ``doubles.L.second_minus_first_db``,
``tempo_bpm``. Takes are in order of their day, and of the table within a day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from evenhand.domain.bounce import HeardDrop
from evenhand.domain.ceiling import TriedRepetition
from evenhand.domain.exercise import Exercise
from evenhand.domain.findings import Finding
from evenhand.domain.measures import Measure
from evenhand.domain.stroke import StrokeClass
from evenhand.domain.tempo import Tempo


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
