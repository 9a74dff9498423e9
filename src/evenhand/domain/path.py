"""The path: the stages of hand technique in their order, and what must be heard to go on.

Conventions: tempos are beats a minute of the stage's ``beat``; heights go by stroke class.
A condition compares one measure with a bound; which side of the bound its whole 95 %
interval lies on decides, and where it straddles nothing is decided.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evenhand.domain.stroke import StrokeClass

Relation = Literal["at least", "at most"]
Verdict = Literal["met", "not met", "can't tell"]
Proposal = Literal["go on", "stay", "go back", "can't tell"]


@dataclass(frozen=True, slots=True)
class Condition:
    """What must be heard before going on.

    ``measure`` is one of those that a path knows (docs/path.md). ``bound`` is in ``unit``,
    or where None, what an ear can tell. ``words`` say it to a teacher.
    """

    measure: str
    relation: Relation
    bound: float | None
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. Ranges are (from, to)."""

    name: str
    words: str
    stroke: StrokeClass | None
    beat: Fraction
    tempo_bpm: tuple[float, float]
    repetitions: tuple[int, int]  # in one go
    minutes_a_day: tuple[float, float]
    weeks: tuple[float, float]
    conditions: tuple[Condition, ...]
    beside: tuple[tuple[StrokeClass, float], ...] = ()  # other strokes kept up beside it, minutes a day


@dataclass(frozen=True, slots=True)
class PracticePath:
    """The stages in their order."""

    stages: tuple[Stage, ...]

    def stage(self, name: str) -> Stage | None:
        """Return a stage by its name."""
        return next((stage for stage in self.stages if stage.name == name), None)


@dataclass(frozen=True, slots=True)
class Judged:
    """One condition and what the history says of it: the figure, its interval, its count."""

    condition: Condition
    verdict: Verdict
    value: float | None
    ci95: tuple[float, float] | None
    n: int
    bound: float | None  # as used


@dataclass(frozen=True, slots=True)
class Advice:
    """What is proposed; the teacher decides. ``to`` is the stage it leads to."""

    stage: str
    proposal: Proposal
    to: str
    judged: tuple[Judged, ...]
    why: str
    weeks_in_stage: float | None = None
