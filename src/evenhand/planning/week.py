"""The next week: what each day works on, so that days differ and build on each other.

The first half of a week is blocked, each piece of a focus after the other; in the second half other work
comes between them (interleaved turns of three minutes were favoured over blocks of twelve where raters told
them apart, Carter & Grahn 2016, Front Psychol 7:1251; ten clarinettists). What was learnt before is reviewed
on some days and not on others: that spacing helps is shown for facts (Cepeda et al. 2008, Psychol Sci
19:1095-1102) and, over 24 hours, for a keyboard task (Simmons 2012, J Res Music Educ 59:357-368), not for
drumming.

Conventions: days count from 0. The seed only decides where a week begins in lists that are as good.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Exercise
from evenhand.planning.blocks import (
    EXTRA_SHARE,
    EXTRAS,
    FOCUS_SHARE,
    LONG_GO_S,
    RECORD_SHARE,
    REVIEW_SHARE,
    SECOND_SHARE,
    SHORT_GO_S,
    WARM_UP_SHARE,
    DayAt,
    Extra,
    Focus,
    StandsAt,
    WeekChoice,
    again_piece,
    on_one_beat,
    other_piece,
    step_piece,
)
from evenhand.planning.lesson import USUAL_GO_S, Piece, fill_day
from evenhand.planning.practice import PracticeDay
from evenhand.planning.treatments import HeardFault, Step
from evenhand.progress.stages.path import Stage
from evenhand.take import Remark, RemarkKind

# From so many seconds a day on, a day has a ... (conventions of Evenhand: five minutes are for one thing)
RECORD_FROM_S, WARM_UP_FROM_S, STEP_FROM_S, REVIEW_FROM_S, EXTRA_FROM_S, SECOND_FROM_S = (
    120,
    180,
    270,
    450,
    570,
    750,
)
NEW_STEPS: tuple[Step, ...] = ("alone", "leading")  # of what no fault asks for
NEW_A_WEEK = 3
DAYS_WITH_STEPS = 3  # a week so long ends with the exercise alone


@dataclass(frozen=True, slots=True)
class WeekProblem:
    """What is asked of a week, and what it may be made of.

    ``targets`` are what comes next where no fault asks for anything, in their order; ``warm_ups`` are easy,
    ``reviews`` were learnt before, those longest ago first; ``extras`` are fast, long or musical. ``record``
    is the form of the take to record.
    """

    seconds_a_day: int
    days: int
    faults: tuple[HeardFault, ...]
    fault_choices: tuple[WeekChoice, ...]  # the exercise of each fault
    targets: tuple[WeekChoice, ...]
    warm_ups: tuple[WeekChoice, ...]
    reviews: tuple[WeekChoice, ...]
    extras: tuple[tuple[Extra, WeekChoice], ...]
    record: WeekChoice | None
    stands: StandsAt
    seed: int = 0


def plan_days(asked: WeekProblem) -> tuple[tuple[PracticeDay, ...], tuple[Focus, ...]]:
    """Plan a week; return its days, and what it works on, the first thing first.

    Raises
    ------
    WrongOptions
        Where not even one exercise fits into a day.
    """
    focuses = week_focuses(asked)
    if not focuses:
        raise WrongOptions(got="nothing to practise", must_be="a book or a stage with at least one exercise")
    drafts = [_day(asked, focuses, index) for index in range(asked.days)]
    return tuple(_filled(pieces, asked.seconds_a_day) for pieces in on_one_beat(drafts)), focuses


def week_focuses(asked: WeekProblem) -> tuple[Focus, ...]:
    """Return what the week works on: faults first, those of one hand and kind together; then what comes next.

    What a teacher marked to be used comes second at the latest.
    """
    of_faults = list(_fault_focuses(asked))
    taken = {focus.choice.exercise for focus in of_faults}
    free = [choice for choice in asked.targets if choice.exercise not in taken]
    leading = [Focus(choice, NEW_STEPS) for choice in free if choice.leads][:NEW_A_WEEK]
    others = [Focus(choice, NEW_STEPS) for choice in _by_turns(choice for choice in free if not choice.leads)]
    room = max(NEW_A_WEEK - len(of_faults) - len(leading), 0 if of_faults and leading else 1)
    return (*of_faults[:1], *leading, *of_faults[1:], *others[:room])


def _by_turns(choices: Iterable[WeekChoice]) -> list[WeekChoice]:
    """Order choices so that tracks come by turns, each in its own order: the second focus is a contrast."""
    tracks: dict[str, list[WeekChoice]] = {}
    for choice in choices:
        tracks.setdefault(choice.track, []).append(choice)
    return [choice for row in zip_longest(*tracks.values()) for choice in row if choice is not None]


def _fault_focuses(asked: WeekProblem) -> list[Focus]:
    """Put faults that one kind of work mends together, in the order in which they were heard most."""
    rows: dict[object, list[int]] = {}
    for i, fault in enumerate(asked.faults):
        hand = fault.hand if fault.group != "pulse" else None
        rows.setdefault((fault.group, hand), []).append(i)
    return [
        Focus(
            asked.fault_choices[places[0]],
            asked.faults[places[0]].treatment.steps,
            tuple(asked.faults[i] for i in places),
        )
        for places in rows.values()
    ]


def _day(asked: WeekProblem, focuses: Sequence[Focus], index: int) -> list[Piece]:
    """Put a day's pieces in their order."""
    on = DayAt(index / max(asked.days - 1, 1), asked.stands)
    second = _second(asked, focuses, index, on)
    first = _focus_pieces(asked, focuses[0], index, on, alone=not second)
    record = _record(asked, on)
    taken = {piece.exercise for piece in [*first, *second, *record]}
    review = _review(asked, index, on, taken)
    extra = _extra(asked, index, on, taken | {piece.exercise for piece in review})
    warm_up = _warm_up(asked, index)
    late = index >= (asked.days + 1) // 2
    middle = [*first[:1], *second, *review, *first[1:]] if late else [*first, *second, *review]
    return [*warm_up, *middle, *extra, *record]


def _focus_pieces(asked: WeekProblem, focus: Focus, index: int, on: DayAt, *, alone: bool) -> list[Piece]:
    """Make the day's step of the first focus, and the exercise itself; on the last day that, and no step.

    Where it is ``alone`` a day keeps its step to the end.
    """
    again = again_piece(focus, on, FOCUS_SHARE / 2)
    last = not alone and asked.days >= DAYS_WITH_STEPS and index == asked.days - 1
    if asked.seconds_a_day < STEP_FROM_S or last:
        return [again]
    step = _step(focus, index, on, FOCUS_SHARE / 2)
    return [again] if step is None else [step, again]


def _step(focus: Focus, index: int, on: DayAt, share: float) -> Piece | None:
    """Make the step whose day it is; where it cannot be made, another."""
    steps = focus.steps
    at = index % len(steps)
    ordered = [*steps[at:], *steps[:at], "slower"]
    made = (step_piece(focus, step, on, share) for step in ordered)
    return next((piece for piece in made if piece is not None), None)


def _second(asked: WeekProblem, focuses: Sequence[Focus], index: int, on: DayAt) -> list[Piece]:
    """Make the second focus block: by turns what else the week works on, a step first and then the whole."""
    others = focuses[1:]
    if asked.seconds_a_day < SECOND_FROM_S and not (len(others) and asked.days > 1 and _has_faults(others)):
        return []
    if not others:
        return []
    focus, turn = others[index % len(others)], index // len(others)
    if focus.faults and turn % 2 == 0:
        piece = _step(focus, turn, on, SECOND_SHARE)
        if piece is not None:
            return [piece]
    return [again_piece(focus, on, SECOND_SHARE)]


def _has_faults(focuses: Sequence[Focus]) -> bool:
    return any(focus.faults for focus in focuses)


def _review(asked: WeekProblem, index: int, on: DayAt, taken: set[Exercise]) -> list[Piece]:
    """Take up what was learnt before: each with days between."""
    if asked.seconds_a_day < REVIEW_FROM_S:
        return []
    free = [choice for choice in asked.reviews if choice.exercise not in taken]
    if not free:
        return []
    choice = free[(asked.seed + index) % len(free)]
    why = (Remark("learnt before", {"n": asked.stands(choice.exercise, choice.stroke).takes}),)
    return [other_piece(choice, "review", "purpose review", why, on=on, share=REVIEW_SHARE)]


def _extra(asked: WeekProblem, index: int, on: DayAt, taken: set[Exercise]) -> list[Piece]:
    """Add something fast, long or musical where the stage has it; nothing that a fault stands against.

    What is fast or long waits while any fault is heard in half of the newest takes.
    """
    if asked.seconds_a_day < EXTRA_FROM_S:
        return []
    often = any(fault.audible and 2 * fault.takes >= fault.of for fault in asked.faults)
    free = [
        (kind, choice)
        for kind, choice in asked.extras
        if choice.exercise not in taken
        and not asked.stands(choice.exercise, choice.stroke).faults
        and (kind == "music" or not often)
    ]
    if not free:
        return []
    kind, choice = free[(asked.seed + index) % len(free)]
    go_s = {"speed": SHORT_GO_S, "endurance": LONG_GO_S, "music": USUAL_GO_S}[kind]
    return [
        other_piece(
            choice,
            "music" if kind == "music" else "speed",
            EXTRAS[kind],
            (Remark("next in the library", {"track": choice.track}),),
            on=on,
            share=EXTRA_SHARE,
            go_s=go_s,
        )
    ]


def _record(asked: WeekProblem, on: DayAt) -> list[Piece]:
    """End with the take to record."""
    if asked.record is None or asked.seconds_a_day < RECORD_FROM_S:
        return []
    purpose: RemarkKind = "purpose record drops" if asked.record.stroke is None else "purpose record"
    why = (Remark("same form each week"),)
    return [
        other_piece(
            asked.record,
            "record",
            purpose,
            why,
            on=on,
            share=RECORD_SHARE,
            least_s=_held_s(asked.record.stage),
        )
    ]


def _held_s(stage: Stage) -> float:
    """Return how long a take must be to meet the stage's conditions; 0 where that is not asked."""
    return max((each.bound or 0.0 for each in stage.conditions if each.measure == "steady_s"), default=0.0)


def _warm_up(asked: WeekProblem, index: int) -> list[Piece]:
    """Begin with something easy; the strokes that are kept up come by turns."""
    if asked.seconds_a_day < WARM_UP_FROM_S or not asked.warm_ups:
        return []
    choice = asked.warm_ups[(asked.seed + index) % len(asked.warm_ups)]
    keeps = choice.stroke is not None and any(choice.stage is not each.stage for each in asked.targets)
    kept = Remark("keeps up a stroke", {"stroke": choice.stroke or ""})
    why = (kept if keeps else Remark("easy to begin with"),)
    return [
        other_piece(
            choice, "warm-up", "purpose warm-up", why, on=DayAt(0.0, asked.stands), share=WARM_UP_SHARE
        )
    ]


def _filled(pieces: Sequence[Piece], seconds: int) -> PracticeDay:
    """Give a day its lengths; where all do not fit, leave out what is least needed."""
    kept = list(pieces)
    while True:
        try:
            return fill_day(kept, seconds)
        except WrongOptions:
            if len(kept) == 1:
                raise
            spare = max(range(len(kept)), key=lambda i: _spare(kept[i]))
            kept.pop(spare)


def _spare(piece: Piece) -> int:
    """Say how well a day does without a piece."""
    return ("focus", "record", "warm-up", "review", "music", "speed").index(piece.block)
