"""The path: the stages of hand technique in their order, and what must be heard to go on.

Conventions: tempos are beats a minute of the stage's ``beat``, said of exercises written in it; one in
other notes has as many notes a minute. Heights go by stroke class. A condition compares one measure with
a bound; which side of the bound its whole 95 % range lies on decides, and where it straddles nothing
is decided.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure
from evenhand.domain.stroke import StrokeClass

Relation = Literal["at least", "at most"]
Verdict = Literal["met", "not met", "can't tell"]
Proposal = Literal["go on", "stay", "go back", "can't tell"]


@dataclass(frozen=True, slots=True)
class PathMeasure:
    """A measure that a condition may ask for.

    ``audible`` says whether its bound may be what an ear can tell. ``words`` say it to a
    teacher where a path has no words of its own.
    """

    name: str
    relation: Relation
    unit: str
    audible: bool
    words: str


_ROWS = (
    ("spread_ms", "at most", "ms", True, "each hand steady in time"),
    ("hands_apart_ms", "at most", "ms", True, "the hands together in time"),
    ("balance_db", "at most", "dB", True, "both hands equally loud"),
    ("level_spread_db", "at most", "dB", True, "each hand steady in level"),
    ("second_db", "at least", "dB", True, "the second of two as loud as the first"),
    ("ceiling_bpm", "at least", "bpm", False, "in control at tempo"),
    ("free_drops", "at least", "drops", False, "drops left to bounce out, each hand"),
    ("bounces", "at least", "bounces", False, "bounces by themselves, each hand"),
    ("days", "at least", "days", False, "heard on different days"),
)
PATH_MEASURES: Mapping[str, PathMeasure] = {
    name: PathMeasure(name, "at least" if relation == "at least" else "at most", unit, audible, words)
    for name, relation, unit, audible, words in _ROWS
}


@dataclass(frozen=True, slots=True)
class Condition:
    """What must be heard before going on.

    ``measure`` is one of ``PATH_MEASURES``. ``bound`` is in ``unit``, or where None, what an
    ear can tell. ``words`` say it to a teacher, the bound apart.
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
        """Return a stage by its name; capitals, and - or _ for a space, make no difference."""
        wanted = plain_name(name)
        return next((stage for stage in self.stages if plain_name(stage.name) == wanted), None)

    def before(self, stage: Stage) -> Stage | None:
        """Return the stage before one, None before the first."""
        place = self.stages.index(stage)
        return self.stages[place - 1] if place else None

    def after(self, stage: Stage) -> Stage | None:
        """Return the stage after one, None after the last."""
        place = self.stages.index(stage) + 1
        return self.stages[place] if place < len(self.stages) else None


def condition(measure: str, bound: float | None = None, words: str = "") -> Condition:
    """Make a condition of a known measure, in its usual words where none are given."""
    known = PATH_MEASURES[measure]
    return Condition(measure, known.relation, bound, known.unit, words or known.words)


def plain_name(name: str) -> str:
    """Return a stage's name as it is compared.

    >>> plain_name(" Rebound-Doubles ")
    'rebound doubles'
    """
    return " ".join(name.replace("-", " ").replace("_", " ").casefold().split())


@dataclass(frozen=True, slots=True)
class Judged:
    """One condition and what the history says of it: the figure, its interval, its count.

    ``n`` counts takes, or repetitions for a ceiling, or drops. Where each hand is judged,
    ``hands`` holds both and the figure is that of ``hand``, the one that decides.
    ``at_least`` and ``at_most`` are what is known of a ceiling that is not bounded on both
    sides. ``needs`` is how many takes more would likely tell; ``why`` says what is lacking.
    """

    condition: Condition
    verdict: Verdict
    value: float | None
    ci95: tuple[float, float] | None
    n: int
    bound: float | None  # as used
    hand: Hand | None = None
    hands: Mapping[Hand, Measure] = field(default_factory=dict)
    at_least: float | None = None
    at_most: float | None = None
    needs: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """What is proposed; the teacher decides. ``to`` is the stage it leads to.

    ``slipped`` are conditions of the stage before that are now clearly not met.
    """

    stage: str
    proposal: Proposal
    to: str
    judged: tuple[Judged, ...]
    why: str
    weeks_in_stage: float | None = None
    slipped: tuple[Judged, ...] = ()
    takes: int = 0
    days: int = 0
    notes: tuple[str, ...] = ()
