"""The path: the stages of hand technique in their order, and what must be heard to go on.

The path as it is commonly taught is common practice, and a teacher may write another (docs/path.md): the
order, the heights, half strokes at 1/8 = 60 to 80 four times an exercise for a quarter of an hour a day and
one to two weeks, taps four to twenty times in one go, later five to ten minutes of half and full strokes
beside the taps and about twenty minutes in all. The other tempos, and the bounds of the conditions that are
not what an ear can tell, are conventions of Evenhand.

Conventions: tempos are beats a minute of the stage's ``beat``, said of exercises written in it; one in
other notes has as many notes a minute. Which side of a condition's bound the whole 95 % range of a figure
lies on decides, and where it straddles nothing is decided; a figure that may stray to either side of zero is
met inside the bound on both. Of two hands the one that is worse decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from evenhand.measuring.values import Measure
from evenhand.music.exercise import HANDS, Hand
from evenhand.music.strokes.heights import StrokeClass
from evenhand.take import Remark

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
    sides. ``needs`` is how many takes more would likely tell; ``remark`` says what is lacking.
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
    remark: Remark | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """What is proposed; the teacher decides. ``to`` is the stage it leads to.

    ``slipped`` are conditions of the stage before that are now clearly not met.
    """

    stage: str
    proposal: Proposal
    to: str
    judged: tuple[Judged, ...]
    weeks_in_stage: float | None = None
    slipped: tuple[Judged, ...] = ()
    takes: int = 0
    days: int = 0
    notes: tuple[Remark, ...] = ()


EIGHTH = Fraction(1, 8)

STEADY = (condition("spread_ms"), condition("hands_apart_ms"))
EQUAL = condition("balance_db")


FAST_ENOUGH = (
    0.95  # of a stage's fastest tempo: what is played at that tempo shows a ceiling no higher for sure
)


def _up_to(bpm: float) -> Condition:
    """Ask for control up to a stage's fastest tempo, as far as takes within the stage can show it."""
    return condition("ceiling_bpm", round(FAST_ENOUGH * bpm))


def _days(n: int) -> Condition:
    return condition("days", n)


COMMON_PATH = PracticePath(
    (
        Stage(
            name="rebound",
            words="Find where the stick balances in the fingers, drop it, and let it bounce by itself.",
            stroke=None,
            beat=EIGHTH,
            tempo_bpm=(40.0, 60.0),
            repetitions=(4, 8),
            minutes_a_day=(5.0, 10.0),
            weeks=(0.5, 1.0),
            conditions=(condition("free_drops", 3), condition("bounces", 6)),
        ),
        Stage(
            name="half",
            words="Half strokes: throw the stick, and let it come back by itself.",
            stroke="half",
            beat=EIGHTH,
            tempo_bpm=(60.0, 80.0),
            repetitions=(4, 4),
            minutes_a_day=(15.0, 15.0),
            weeks=(1.0, 2.0),
            conditions=(*STEADY, EQUAL, _up_to(80), _days(3)),
        ),
        Stage(
            name="full",
            words="Full strokes, from where the stick stands upright and back to it.",
            stroke="full",
            beat=EIGHTH,
            tempo_bpm=(60.0, 80.0),
            repetitions=(4, 4),
            minutes_a_day=(15.0, 15.0),
            weeks=(1.0, 2.0),
            conditions=(*STEADY, EQUAL, _up_to(80), _days(3)),
        ),
        Stage(
            name="tap",
            words="Taps, low and loose, up to twenty repetitions in one go.",
            stroke="tap",
            beat=EIGHTH,
            tempo_bpm=(80.0, 160.0),
            repetitions=(4, 20),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 6.0),
            conditions=(*STEADY, EQUAL, _up_to(160), _days(4)),
            beside=(("half", 3.0), ("full", 3.0)),
        ),
        Stage(
            name="building speed",
            words="Taps faster, a little at a time, only as fast as the hands stay loose.",
            stroke="tap",
            beat=EIGHTH,
            tempo_bpm=(120.0, 320.0),
            repetitions=(4, 20),
            minutes_a_day=(20.0, 20.0),
            weeks=(4.0, 26.0),
            conditions=(*STEADY, condition("ceiling_bpm", 240.0), _days(4)),
            beside=(("half", 4.0), ("full", 4.0)),
        ),
        Stage(
            name="rebound doubles",
            words="Doubles that pass from two wrist strokes to one throw and its bounce.",
            stroke="tap",
            beat=EIGHTH,
            tempo_bpm=(120.0, 480.0),
            repetitions=(4, 20),
            minutes_a_day=(20.0, 20.0),
            weeks=(4.0, 26.0),
            conditions=(condition("second_db"), condition("hands_apart_ms"), _days(4)),
            beside=(("half", 4.0), ("full", 4.0)),
        ),
    )
)


MOST_NEEDED = 40  # takes more than that are not worth naming
_RANK: Mapping[Verdict, int] = {"met": 0, "can't tell": 1, "not met": 2}


def side_of(measure: Measure, condition: Condition, bound: float, *, two_sided: bool = False) -> Verdict:
    """Say on which side of the bound the whole interval lies."""
    if measure.value is None or measure.ci95 is None:
        return "can't tell"
    low, high = measure.ci95
    if condition.relation == "at least":
        met, not_met = low >= bound, high < bound
    elif two_sided:
        met, not_met = -bound <= low and high <= bound, low > bound or high < -bound
    else:
        met, not_met = high <= bound, low > bound
    return "met" if met else "not met" if not_met else "can't tell"


def judged_one(condition: Condition, measure: Measure, bound: float, *, two_sided: bool = False) -> Judged:
    """Judge a figure of both hands together."""
    verdict = side_of(measure, condition, bound, two_sided=two_sided)
    value = None if measure.value is None else abs(measure.value) if two_sided else measure.value
    return Judged(
        condition,
        verdict,
        measure.value,
        measure.ci95,
        measure.n,
        bound,
        needs=_needed(measure, value, bound) if verdict == "can't tell" else None,
    )


def judged_hands(condition: Condition, hands: Mapping[Hand, Measure], bounds: Mapping[Hand, float]) -> Judged:
    """Judge each hand; the worse one decides, and a hand that was not heard leaves it open."""
    verdicts = {hand: side_of(measure, condition, bounds[hand]) for hand, measure in hands.items()}
    sign = 1.0 if condition.relation == "at most" else -1.0

    def badness(hand: Hand) -> tuple[int, float]:
        value = hands[hand].value
        return _RANK[verdicts[hand]], -math.inf if value is None else sign * (value - bounds[hand])

    worse = max(hands, key=badness)
    one = replace(judged_one(condition, hands[worse], bounds[worse]), hand=worse, hands=dict(hands))
    lacking = hand_not_heard(hands)
    if lacking is None or one.verdict == "not met":
        return one
    return replace(one, verdict="can't tell", remark=lacking)


def hand_not_heard(hands: Mapping[Hand, Measure]) -> Remark | None:
    """Return which hand nothing was heard of, if one is lacking."""
    lacking = [hand for hand in HANDS if hand not in hands]
    return Remark("hand not heard", {"hand": lacking[0]}) if lacking else None


def not_shown(condition: Condition, remark: Remark, n: int = 0) -> Judged:
    """Say that nothing shows it yet."""
    return Judged(condition, "can't tell", None, None, n, condition.bound, remark=remark)


def _needed(measure: Measure, value: float | None, bound: float) -> int | None:
    """Say how many takes more would likely tell, if the figure stays as it is."""
    if value is None or measure.ci95 is None or value == bound:
        return None
    half = (measure.ci95[1] - measure.ci95[0]) / 2
    more = math.ceil(measure.n * ((half / (value - bound)) ** 2 - 1))
    return max(more, 1) if more <= MOST_NEEDED else None
