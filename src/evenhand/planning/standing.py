"""Where a student stands with an exercise: what stands against it, its ceiling, and how fast to go next.

This is the one place that says so: plans, pages and sheets ask here, so that none says "faster" where another
says "weak". Faster only when even: what was heard in the newest take of an exercise, or in half of its newest
takes, stands against it, and while it does the exercise stays at its tempo, or goes slower where control
itself was lost. That errors in practice weigh on what is kept is shown for piano (Duke, Simmons & Cash 2009,
J Res Music Educ 56:310-321); the shares are conventions of Evenhand.

Conventions: takes of the same notes and the same class of stroke belong together (one whose stroke is not
said belongs to any). A speed is the seconds of a whole note: the larger, the slower.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evenhand.measuring.values import Finding, FindingKind
from evenhand.music.beat import QUARTER, SLOWEST_FELT_BPM, click_tempo, fastest_s, slowest_s, tempo_on
from evenhand.music.exercise import Exercise, Hand, Tempo, whole_note_s
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.writing.rates import hand_rate, rate_per_s
from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.progress.ceiling.over_weeks import ceiling_now
from evenhand.progress.history import PastTake, played_bpm
from evenhand.progress.stages.path import Stage
from evenhand.take import Fact, Remark

Move = Literal["begin", "faster", "stay", "slower"]

NEWEST = 4  # takes of an exercise that say whether something stands against it
OFTEN = 0.5  # of them: what was heard in so many stands, though the newest was free of it
SLOWER = 0.9  # of the tempo last played, where control was lost
UNDER_CEILING = 0.95  # no tempo is proposed beyond this share of the ceiling
RISE, SURE_RISE = 1.10, 1.30  # over a week, of what went well: where not all, and where all was in control
STEP = (
    1.06  # a week begins so much faster than what went well: who records on its first day only goes on, too
)
NEW_RISE = 1.25  # a new exercise's tempo over its first week, from the stage's slow end
SETTLED = 3  # takes without a fault, from which an exercise counts as learnt
DROP_S = 4.0  # a whole note of drops, 1/4 = 60: the stick lies still before the next (docs/library.md)
SLOWEST_QUARTER_S = whole_note_s(SLOWEST_FELT_BPM, QUARTER)  # a new exercise begins on a quarter that is felt
ROUNDING = 1.02  # a click is set in steps of about 2 %

# Control itself was lost: slower. In all others the tempo stays.
LOSES_CONTROL: frozenset[FindingKind] = frozenset(
    {"tiring", "missed_note", "uneven_above_tempo", "wandering_hand"}
)
NO_FAULT: frozenset[FindingKind] = frozenset({"unlike_exercise", "two_alignments", "cannot_tell", "even"})
# What was seen: takes of a history were heard, and the answer about lifting is experimental.
SEEN: frozenset[FindingKind] = frozenset(
    {"other_sticking", "stroke_heights", "uneven_heights", "lifted_stick"}
)


@dataclass(frozen=True, slots=True)
class StandingFault:
    """One thing that stands against an exercise: in ``takes`` of its newest ``of`` takes."""

    kind: FindingKind
    hand: Hand | None
    takes: int
    of: int


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a student stands with one exercise.

    ``now_s`` is the speed to begin the week at and ``next_s`` the one to end it at, seconds of a whole note;
    both None where it was never played. ``ceiling`` is None where no repetition was judged.
    """

    exercise: Exercise
    takes: int
    faults: tuple[StandingFault, ...]
    ceiling: TempoCeiling | None
    move: Move
    why: Remark
    now_s: float | None = None
    next_s: float | None = None

    @property
    def tempo(self) -> Tempo | None:
        """The tempo to reach, on the felt beat and as a click is set; None where it was never played."""
        return None if self.next_s is None else click_tempo(self.exercise, self.next_s)


def is_learnt(exercise: Exercise, takes: Sequence[PastTake], stroke: StrokeClass | None) -> bool:
    """Tell whether an exercise went well often enough to be kept by review alone."""
    own = takes_of(takes, exercise, stroke)
    return len(own) >= SETTLED and not standing_faults(own)


def fault_of(finding: Finding) -> tuple[FindingKind, Hand | None] | None:
    """Return what a finding says against the playing, and of which hand; None where it says nothing."""
    if finding.kind in NO_FAULT | SEEN or not finding.practise:
        return None
    return finding.kind, None if finding.evidence is None else finding.evidence.hand


def takes_of(takes: Sequence[PastTake], exercise: Exercise, stroke: StrokeClass | None) -> list[PastTake]:
    """Return the takes of an exercise with a stroke, those that tell the hands apart."""
    return [
        take
        for take in takes
        if take.clear
        and take.exercise.notes == exercise.notes
        and (take.stroke is None or stroke is None or take.stroke == stroke)
    ]


def exercise_standing(
    exercise: Exercise, takes: Sequence[PastTake], *, stroke: StrokeClass | None = None
) -> Standing:
    """Say where a student stands with an exercise.

    Parameters
    ----------
    takes
        The student's takes in the order of their days, of any exercise.
    stroke
        The class of stroke that it is played with; None for any.
    """
    own = takes_of(takes, exercise, stroke)
    if not own:
        return Standing(exercise, 0, (), None, "begin", Remark("new exercise"))
    faults = standing_faults(own)
    ceiling = ceiling_now(own)
    last_s = _speed(own[-1])
    if faults:
        loses = next((fault for fault in faults if fault.kind in LOSES_CONTROL), None)
        told = loses or faults[0]
        move: Move = "slower" if loses else "stay"
        slow_s = last_s / SLOWER if loses else last_s
        now_s, next_s = _under(slow_s, ceiling), _under(last_s, ceiling)
        return Standing(exercise, len(own), faults, ceiling, move, _fault_remark(move, told), now_s, next_s)
    best_s = min(_speed(take) for take in own[-NEWEST:] if not _faults_in(take))
    now_s = _under(best_s, ceiling)
    next_s = _under(min(_tried_next_s(ceiling, best_s), now_s), ceiling)
    if now_s > best_s * ROUNDING:
        return Standing(exercise, len(own), (), ceiling, "slower", _ceiling_remark(ceiling), now_s, now_s)
    if next_s >= now_s / ROUNDING:
        return Standing(exercise, len(own), (), ceiling, "stay", _ceiling_remark(ceiling), now_s, now_s)
    begin_s = max(next_s, now_s / STEP)
    return Standing(exercise, len(own), (), ceiling, "faster", Remark("even so far"), begin_s, next_s)


def standing_faults(own: Sequence[PastTake]) -> tuple[StandingFault, ...]:
    """Return what stands against an exercise in its newest takes, the most often heard first."""
    newest = own[-NEWEST:]
    met = [_faults_in(take) for take in newest]
    faults = list(dict.fromkeys(fault for each in reversed(met) for fault in each))
    counted = [(fault, sum(fault in each for each in met)) for fault in faults]
    standing = [(fault, n) for fault, n in counted if fault in met[-1] or (n > 1 and n >= OFTEN * len(met))]
    ordered = sorted(standing, key=lambda row: -row[1])
    return tuple(StandingFault(kind, hand, n, len(newest)) for (kind, hand), n in ordered)


def _faults_in(take: PastTake) -> list[tuple[FindingKind, Hand | None]]:
    return [fault for finding in take.findings if (fault := fault_of(finding)) is not None]


def _speed(take: PastTake) -> float:
    """Return how fast a take was played, seconds of a whole note."""
    return whole_note_s(played_bpm(take), take.tempo.beat)


def _under(whole_s: float, ceiling: TempoCeiling | None) -> float:
    """Keep a speed under the ceiling, as far as that is known."""
    limit = practice_limit_s(ceiling)
    return whole_s if limit is None else max(whole_s, limit)


def practice_limit_s(ceiling: TempoCeiling | None) -> float | None:
    """Return the fastest speed that the ceiling allows to practise, seconds of a whole note.

    Of a ceiling that is only known to lie lower than a tempo, that tempo counts; None where nothing is known.
    """
    if ceiling is None:
        return None
    top = ceiling.ceiling.value if ceiling.ceiling.value is not None else ceiling.at_most_bpm
    return None if top is None else whole_note_s(UNDER_CEILING * top, ceiling.beat)


def _tried_next_s(ceiling: TempoCeiling | None, best_s: float) -> float:
    """Return the speed that is worth trying after what went well."""
    if ceiling is None or all(each.controlled for each in ceiling.tried):
        return best_s / SURE_RISE
    if ceiling.next_tempo_bpm is None:
        return best_s / RISE
    return max(best_s / RISE, whole_note_s(ceiling.next_tempo_bpm, ceiling.beat))


def _fault_remark(move: Move, fault: StandingFault) -> Remark:
    facts: dict[str, Fact] = {
        "told": fault.kind,
        "hand": fault.hand or "",
        "takes": fault.takes,
        "of_takes": fault.of,
    }
    return Remark("slower for a fault" if move == "slower" else "stays for a fault", facts)


def _ceiling_remark(ceiling: TempoCeiling | None) -> Remark:
    """Say that the ceiling keeps the tempo where it is."""
    if ceiling is None or ceiling.ceiling.value is None:
        return Remark("control not sure")
    return Remark("at the ceiling", {"ceiling": str(Tempo(ceiling.beat, round(ceiling.ceiling.value)))})


def speeds_for(stage: Stage, standing: Standing) -> tuple[float, float, Remark]:
    """Return the speeds of a week's first and last day in a stage, and why: seconds of a whole note.

    Inside the stage's bounds for the busier hand; where the student's ceiling lies lower, below them, and the
    reason says so.
    """
    rate = hand_rate(standing.exercise)
    slow_s, fast_s = (rate / each for each in stage.rate_per_s)
    slow_s = min(slow_s, slowest_s(standing.exercise))
    if stage.stroke is None:
        own_s = min(max(DROP_S, fast_s), slow_s)
        return own_s, own_s, standing.why
    if standing.now_s is None or standing.next_s is None:
        middle = middle_s(stage, standing.exercise)
        from_s = max(min(slow_s, SLOWEST_QUARTER_S), middle)
        return from_s, max(from_s / NEW_RISE, middle), standing.why
    now_s, next_s = max(standing.now_s, fast_s), max(standing.next_s, fast_s)
    limit = practice_limit_s(standing.ceiling)
    if limit is not None and limit > slow_s * ROUNDING:
        return max(now_s, limit), max(next_s, limit), Remark("slower than the stage")
    if standing.faults and next_s > slow_s * ROUNDING:  # no faster than it was heard at
        return now_s, next_s, Remark("slower than the stage")
    now_s, next_s = min(now_s, slow_s), min(next_s, slow_s)
    if standing.next_s < fast_s / ROUNDING and not standing.faults:
        return now_s, next_s, Remark("as fast as the stage")
    return now_s, next_s, standing.why


def middle_s(stage: Stage, exercise: Exercise) -> float:
    """Return the speed in the middle of a stage, as a ratio: seconds of a whole note."""
    slow_s, fast_s = (hand_rate(exercise) / each for each in stage.rate_per_s)
    return math.sqrt(min(slow_s, slowest_s(exercise)) * fast_s)


def can_be_felt(stage: Stage, exercise: Exercise) -> bool:
    """Tell whether any tempo of a click lies inside a stage's bounds for an exercise."""
    slow, fast = stage.rate_per_s
    rate = hand_rate(exercise)
    return rate / slowest_s(exercise) <= fast and rate / fastest_s(exercise) >= slow


def tempo_within(
    stage: Stage, exercise: Exercise, whole_s: float, *, beat: Fraction | None = None
) -> tuple[Tempo, Remark | None]:
    """Return a click's tempo for a speed, rounded into the stage's bounds, and why where it lies outside.

    ``beat`` is the one to be kept; None for the felt one.
    """
    tempo = click_tempo(exercise, whole_s, beat)
    slow, fast = stage.rate_per_s
    asked = hand_rate(exercise) / whole_s
    got = rate_per_s(exercise, tempo)
    if got > fast and asked <= fast * ROUNDING:
        tempo = _stepped(exercise, tempo, fast)
    elif got < slow and asked >= slow / ROUNDING:
        tempo = _stepped(exercise, tempo, slow)
    got = rate_per_s(exercise, tempo)
    if whole_s > slowest_s(exercise) * ROUNDING:
        return tempo, Remark("no slower on the click")
    return tempo, Remark("slower than the stage") if got < slow / ROUNDING else None


def _stepped(exercise: Exercise, tempo: Tempo, rate: float) -> Tempo:
    """Give exactly the rate asked for, to whole beats a minute inside it."""
    exact = tempo_on(tempo.beat, Tempo(tempo.beat, tempo.bpm * rate / rate_per_s(exercise, tempo))).bpm
    return Tempo(tempo.beat, float(math.floor(exact) if exact < tempo.bpm else math.ceil(exact)))
