"""A path: stages of hand technique in their order, and what must be heard to go on, as values.

Conventions: how fast a stage goes is said in strokes a second of the busier hand (``music.writing.rates``),
so that it holds for any note value. The path that is used where a teacher has none of their own stands in
``usual.py``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from evenhand.music.strokes.heights import StrokeClass

Relation = Literal["at least", "at most"]
Ornament = Literal["flam", "drag", "buzz"]
Holds = Literal["always", "when seen", "never"]


@dataclass(frozen=True, slots=True)
class PathMeasure:
    """A measure that a condition may ask for.

    ``audible`` says whether its bound may be what an ear can tell. ``words`` say it to a
    teacher where a path has no words of its own. ``seen``: a video shows it, and no sound.
    """

    name: str
    relation: Relation
    unit: str
    audible: bool
    words: str
    seen: bool = False


_ROWS = (
    ("spread_ms", "at most", "ms", True, "each hand steady in time"),
    ("hands_apart_ms", "at most", "ms", True, "the hands together in time"),
    ("balance_db", "at most", "dB", True, "both hands equally loud"),
    ("level_spread_db", "at most", "dB", True, "each hand steady in level"),
    ("second_db", "at least", "dB", True, "the second of two as loud as the first"),
    ("second_ms", "at most", "ms", True, "the second of two in its place"),
    ("accents_db", "at least", "dB", False, "accents over the other notes, each hand"),
    ("grace_ms", "at most", "ms", False, "the grace close ahead of its note, each hand"),
    ("grace_db", "at most", "dB", False, "the grace softer than its note, each hand"),
    ("ceiling_per_s", "at least", "strokes/s", False, "in control at speed"),
    ("steady_s", "at least", "s", False, "one go without hurrying, dragging or tiring"),
    ("free_drops", "at least", "drops", False, "drops left to bounce out, each hand"),
    ("bounces", "at least", "bounces", False, "bounces by themselves, each hand"),
    ("days", "at least", "days", False, "heard on different days"),
)
_SEEN_ROWS = (
    ("free_percent", "at least", "%", False, "sticks left to rebound, each hand (experimental)"),
    ("in_class_percent", "at least", "%", False, "heights within the stroke's class, each hand"),
    ("heights_apart_percent", "at most", "%", False, "both hands from the same height"),
)
PATH_MEASURES: Mapping[str, PathMeasure] = {
    name: PathMeasure(
        name,
        "at least" if relation == "at least" else "at most",
        unit,
        audible,
        words,
        seen=rows is _SEEN_ROWS,
    )
    for rows in (_ROWS, _SEEN_ROWS)
    for name, relation, unit, audible, words in rows
}


@dataclass(frozen=True, slots=True)
class Condition:
    """What must be heard, or seen, before going on.

    ``measure`` is one of ``PATH_MEASURES``. ``bound`` is in ``unit``, or where None, what an
    ear can tell. ``words`` say it to a teacher, the bound apart. With ``within_ms`` only takes
    count whose doubles' two notes are so close. ``holds`` says when it holds a student back: what is heard
    always; what must be seen when a video shows it, always (a video must come), or never (it is a wish).
    """

    measure: str
    relation: Relation
    bound: float | None
    unit: str
    words: str
    within_ms: float | None = None
    holds: Holds = "always"


@dataclass(frozen=True, slots=True)
class StageLimits:
    """What an exercise of a stage may hold.

    ``longest_run`` is in notes by one hand in a row, ``notes`` in struck notes of one repetition;
    ``hardness`` is what it asks beside plain single strokes (``music.writing.difficulty``).
    """

    longest_run: int = 2
    notes: int = 16
    accents: bool = False
    ornaments: tuple[Ornament, ...] = ()
    hardness: float = 2.0


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. Ranges are (from, to)."""

    name: str
    words: str
    stroke: StrokeClass | None  # None: the stick is only dropped
    rate_per_s: tuple[float, float]  # strokes a second of the busier hand
    repetitions: tuple[int, int]  # in one go
    minutes_a_day: tuple[float, float]
    weeks: tuple[float, float]
    conditions: tuple[Condition, ...]
    beside: tuple[tuple[StrokeClass, float], ...] = ()  # other strokes kept up beside it, minutes a day
    tracks: tuple[str, ...] = ()  # of the library, its own first
    limits: StageLimits = field(default_factory=StageLimits)
    record: str = ""  # exercise text: the one form to record every week
    formerly: tuple[str, ...] = ()  # names it had before: students keep their place


@dataclass(frozen=True, slots=True)
class PracticePath:
    """The stages in their order; ``gone`` names those that were taken out, and where they lead."""

    stages: tuple[Stage, ...]
    gone: tuple[tuple[str, str], ...] = ()

    def stage(self, name: str) -> Stage | None:
        """Return a stage by its name, or an older one; capitals, and - or _ for a space, don't count."""
        wanted = plain_name(name)
        named = (stage for stage in self.stages if plain_name(stage.name) == wanted)
        older = (s for s in self.stages if wanted in map(plain_name, s.formerly))
        found = next(named, None) or next(older, None)
        if found is not None:
            return found
        leads = next((to for gone, to in self.gone if plain_name(gone) == wanted), None)
        return next((stage for stage in self.stages if stage.name == leads), None)

    def before(self, stage: Stage) -> Stage | None:
        """Return the stage before one, None before the first."""
        place = self.stages.index(stage)
        return self.stages[place - 1] if place else None

    def after(self, stage: Stage) -> Stage | None:
        """Return the stage after one, None after the last."""
        place = self.stages.index(stage) + 1
        return self.stages[place] if place < len(self.stages) else None


def condition(
    measure: str,
    bound: float | None = None,
    words: str = "",
    *,
    within_ms: float | None = None,
    holds: Holds | None = None,
) -> Condition:
    """Make a condition of a known measure, in its usual words where none are given."""
    known = PATH_MEASURES[measure]
    usual: Holds = "when seen" if known.seen else "always"
    words = words or known.words
    return Condition(measure, known.relation, bound, known.unit, words, within_ms, holds or usual)


def plain_name(name: str) -> str:
    """Return a stage's name as it is compared.

    >>> plain_name(" Rebound-Doubles ")
    'rebound doubles'
    """
    return " ".join(name.replace("-", " ").replace("_", " ").casefold().split())


EIGHTH = Fraction(1, 8)
SINGLES = (
    120.0  # beats a minute in eighths, two hands in turn, are so many times the strokes a second of each
)
