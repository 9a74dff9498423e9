"""The blocks of a day: what each is made of, how fast, and what it is for.

A day is a lesson: an easy warm-up, one or two focus blocks on what was heard to be weakest, a review of what
was learnt before, something fast, long or musical where the stage has it, and one take to record, the same
form each week so that weeks compare (common practice).

Conventions: ``through`` goes from 0 on the week's first day to 1 on its last, in a week of few days less far.
A speed is the seconds of a whole note.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, assert_never

from evenhand.music.beat import FASTEST_FELT_BPM, SLOWEST_FELT_BPM, felt_beat_of_all, tempo_on
from evenhand.music.exercise import Exercise
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.writing.parts import hand_alone, leaned_on, led_by, loop_around, other_lead
from evenhand.planning.lesson import USUAL_GO_S, Piece
from evenhand.planning.practice import Block as DayBlock
from evenhand.planning.standing import Standing, middle_s, speeds_for, tempo_within
from evenhand.planning.treatments import HeardFault, Step
from evenhand.progress.stages.path import Stage
from evenhand.take import Fact, Remark, RemarkKind

Extra = Literal["speed", "endurance", "music"]
StandsAt = Callable[[Exercise, StrokeClass | None], Standing]

WARM_UP_SHARE, FOCUS_SHARE, SECOND_SHARE, REVIEW_SHARE, EXTRA_SHARE, RECORD_SHARE = (
    0.10,
    0.36,
    0.19,
    0.13,
    0.12,
    0.10,
)  # of a day: conventions of Evenhand
BEGINS = 0.5  # of a week: so long a new exercise is new
STEP_SLOWER = 0.8  # of the exercise's own tempo
LEAST_SLOWER = 1.05  # so much slower at the least, or it is no step
WARM_UP_SPEED = 0.85  # of the tempo that it is begun at otherwise
SHORT_GO_S, LONG_GO_S = 14.0, 75.0
PURPOSES: dict[Step, RemarkKind] = {
    "slower": "purpose slower",
    "alone": "purpose alone",
    "leading": "purpose leading",
    "around": "purpose around",
    "leaning": "purpose leaning",
    "short goes": "purpose short goes",
}
EXTRAS: dict[Extra, RemarkKind] = {
    "speed": "purpose speed",
    "endurance": "purpose endurance",
    "music": "purpose music",
}


@dataclass(frozen=True, slots=True)
class DayAt:
    """A day of a week: how far through the week it is, and where the student stands with any exercise."""

    through: float
    stands: StandsAt


@dataclass(frozen=True, slots=True)
class WeekChoice:
    """An exercise that a week may hold, and the stage whose stroke and bounds it is played in.

    ``track`` is the library's it comes from, "" for a teacher's own; ``leads`` marks one of the teacher's
    that is to be used, ``kept_up`` one of a stroke of another stage.
    """

    exercise: Exercise
    title: str
    stage: Stage
    track: str = ""
    leads: bool = False
    kept_up: bool = False

    @property
    def stroke(self) -> StrokeClass | None:
        """The class of stroke, None where the stick is only dropped."""
        return self.stage.stroke


@dataclass(frozen=True, slots=True)
class Focus:
    """What a focus block works on: an exercise, its steps over the week, and the faults they are for."""

    choice: WeekChoice
    steps: tuple[Step, ...]
    faults: tuple[HeardFault, ...] = ()


def step_piece(focus: Focus, step: Step, on: DayAt, share: float) -> Piece | None:
    """Make a step of a focus; None where it cannot be made of the exercise, or lies beyond the stage."""
    choice, fault = focus.choice, focus.faults[0] if focus.faults else None
    part = _part(choice.exercise, step, fault)
    if part is None or (part.has_accents and not choice.exercise.has_accents and not _may_accent(choice)):
        return None
    if choice.stroke is None and step in ("slower", "short goes"):  # a drop has its own time
        return None
    whole_s, _, why = speed_on(choice, on)
    if step in ("slower", "around"):
        whole_s /= STEP_SLOWER
    alone = on.stands(part, choice.stroke)
    if alone.next_s is not None:  # a part that was heard by itself goes no faster than it may
        whole_s = max(whole_s, alone.next_s)
    tempo, outside = tempo_within(choice.stage, part, whole_s)
    if fault is None and outside is not None:
        return None
    if step == "slower" and tempo.whole_note_s < whole_s * STEP_SLOWER * LEAST_SLOWER:
        return None  # no click goes slower
    reasons = _fault_reasons(focus) or (_choice_reason(choice), why)
    return Piece(
        block="focus",
        exercise=part,
        tempo=tempo,
        share=share,
        stage=choice.stage,
        part_of=choice.exercise,
        title=choice.title,
        purpose=(Remark(PURPOSES[step], _facts(fault, part)),),
        why=(*reasons, *(() if outside is None else (outside,))),
        repetitions=choice.stage.repetitions,
        go_s=SHORT_GO_S if step == "short goes" else USUAL_GO_S,
    )


def _may_accent(choice: WeekChoice) -> bool:
    return choice.stage.limits.accents


def _part(exercise: Exercise, step: Step, fault: HeardFault | None) -> Exercise | None:
    """Return what is played in a step."""
    hand = "L" if fault is None or fault.hand is None else fault.hand
    match step:
        case "slower" | "short goes":
            return exercise
        case "alone":
            return hand_alone(exercise, hand)
        case "leading":
            of_both = fault is not None and fault.hand is None
            return other_lead(exercise) if of_both else led_by(exercise, hand)
        case "around":
            return loop_around(exercise, () if fault is None else fault.positions)
        case "leaning":
            return leaned_on(exercise, hand, seconds=fault is not None and fault.group == "doubles")
        case _:
            assert_never(step)


def again_piece(focus: Focus, on: DayAt, share: float) -> Piece:
    """Make the exercise itself: after its step, or where it is new or goes on."""
    choice, fault = focus.choice, focus.faults[0] if focus.faults else None
    whole_s, standing, why = speed_on(choice, on)
    tempo, outside = tempo_within(choice.stage, choice.exercise, whole_s)
    purpose: RemarkKind = "purpose again" if fault is not None else "purpose build"
    if choice.stroke is None:
        purpose = "purpose drops"
    elif fault is None and standing.move == "begin" and on.through < BEGINS:
        purpose = "purpose new"
    return Piece(
        block="focus",
        exercise=choice.exercise,
        tempo=tempo,
        share=share,
        stage=choice.stage,
        part_of=choice.exercise,
        title=choice.title,
        purpose=(Remark(purpose, _facts(fault, choice.exercise)),),
        why=(*(_fault_reasons(focus) or (_choice_reason(choice),)), why, *_some(outside)),
        repetitions=choice.stage.repetitions,
    )


def other_piece(
    choice: WeekChoice,
    block: DayBlock,
    purpose: RemarkKind,
    why: tuple[Remark, ...],
    *,
    on: DayAt,
    share: float,
    go_s: float = USUAL_GO_S,
    least_s: float = 0.0,
) -> Piece:
    """Make a warm-up, a review, something fast, long or musical, or the take to record.

    A take to record that was never heard keeps the week's first tempo: nothing says that it may be faster.
    What is kept up from another stage begins in the middle of it, not at its slow end.
    """
    whole_s, standing, reason = speed_on(choice, on)
    if choice.kept_up and not standing.takes:
        whole_s = middle_s(choice.stage, choice.exercise)
    if block == "record" and not standing.takes:
        whole_s, _, _ = speeds_for(choice.stage, standing)
    easy = block == "warm-up" and choice.stroke is not None
    tempo, outside = tempo_within(choice.stage, choice.exercise, whole_s / WARM_UP_SPEED if easy else whole_s)
    if easy and outside is not None:
        tempo, outside = tempo_within(choice.stage, choice.exercise, whole_s)
    facts = _facts(None, choice.exercise) | {"stroke": choice.stroke or ""}
    return Piece(
        block=block,
        exercise=choice.exercise,
        tempo=tempo,
        share=share,
        stage=choice.stage,
        part_of=choice.exercise,
        title=choice.title,
        purpose=(Remark(purpose, facts),),
        why=(*why, *((reason,) if standing.takes and not easy else ()), *_some(outside)),
        repetitions=choice.stage.repetitions,
        go_s=go_s,
        least_s=least_s,
    )


def speed_on(choice: WeekChoice, on: DayAt) -> tuple[float, Standing, Remark]:
    """Return a choice's speed on a day, seconds of a whole note, where the student stands, and why."""
    standing = on.stands(choice.exercise, choice.stroke)
    from_s, to_s, why = speeds_for(choice.stage, standing)
    return from_s * (to_s / from_s) ** on.through, standing, why


def on_one_beat(days: Sequence[Sequence[Piece]]) -> list[list[Piece]]:
    """Give each exercise and its parts one beat over the whole week, as far as one holds all its tempos."""
    speeds: dict[tuple[Exercise, str], list[float]] = {}
    for day in days:
        for piece in day:
            speeds.setdefault(_alike(piece), []).append(piece.tempo.whole_note_s)
    beats = {alike: felt_beat_of_all(alike[0], of_it) for alike, of_it in speeds.items()}
    return [[_on(beats[_alike(piece)], piece) for piece in day] for day in days]


def _alike(piece: Piece) -> tuple[Exercise, str]:
    """Say which pieces share a beat: parts of one exercise in one stage."""
    return piece.part_of, piece.stage.name


def _on(beat: Fraction, piece: Piece) -> Piece:
    on_it = tempo_on(beat, piece.tempo).bpm
    if piece.tempo.beat == beat or not SLOWEST_FELT_BPM <= on_it <= FASTEST_FELT_BPM:
        return piece
    tempo, _ = tempo_within(piece.stage, piece.exercise, piece.tempo.whole_note_s, beat=beat)
    return replace(piece, tempo=tempo)


def _facts(fault: HeardFault | None, exercise: Exercise) -> dict[str, Fact]:
    """Return what a purpose says: the fault and its hand, or the hand that begins."""
    first = next((note.hand for note in exercise.notes if note.hand is not None), "R")
    if fault is None:
        return {"told": "", "hand": first or ""}
    return {"told": fault.kind, "hand": fault.hand or ""}


def _fault_reasons(focus: Focus) -> tuple[Remark, ...]:
    """Give the teacher's reasons: each fault with its takes and figure, and what shows that it mends."""
    reasons: list[Remark] = []
    for fault in focus.faults:
        facts: dict[str, Fact] = {
            "told": fault.kind,
            "hand": fault.hand or "",
            "takes": fault.takes,
            "of_takes": fault.of,
        }
        if fault.figure is not None and fault.figure.value is not None:
            facts |= {"value": fault.figure.value, "unit": fault.figure.unit, "n": fault.figure.n}
        reasons.append(Remark("heard in takes" if fault.audible else "behind in every take", facts))
    if focus.faults:
        first = focus.faults[0]
        if first.changes_of_treatment:
            reasons.append(Remark("another way before", {"weeks": first.unchanged_weeks}))
        watched: dict[str, Fact] = {"measure": first.treatment.measure, "hand": first.hand or ""}
        reasons.append(Remark("success is heard in", watched))
    return tuple(reasons)


def treatment_facts(fault: HeardFault, taken: Sequence[str]) -> dict[str, Fact]:
    """Return what is said of another treatment: the fault, the weeks without change, the steps taken."""
    return {
        "told": fault.kind,
        "hand": fault.hand or "",
        "weeks": fault.unchanged_weeks,
        "steps": " ".join(step.replace(" ", "-") for step in taken or fault.treatment.steps),
    }


def _choice_reason(choice: WeekChoice) -> Remark:
    """Say why an exercise was chosen that no fault asks for."""
    if choice.leads:
        return Remark("to be used")
    return Remark("next in the library", {"track": choice.track}) if choice.track else Remark("from the book")


def _some(remark: Remark | None) -> tuple[Remark, ...]:
    return () if remark is None else (remark,)
