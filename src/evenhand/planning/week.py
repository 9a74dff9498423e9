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

from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Exercise, Hand
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
from evenhand.planning.practice import Block, PracticeDay
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
    660,
)
NEW_STEPS: tuple[Step, ...] = ("alone", "leading")  # of what no fault asks for
NEW_A_WEEK = 2  # a main thing, and a contrast to it; one more where days are long
LONG_DAY_S = 20 * 60
MOST_TO_USE = 3  # of what a teacher marked to be used
OTHER_STEPS: tuple[Step, ...] = ("slower", "leading", "alone")  # where one of a treatment cannot be made
WHOLE_WEEK = 5  # days in which a tempo rises as far as it may; in fewer it rises less far
DAYS_WITH_STEPS = 3  # a week so long ends with the exercise alone
A_WEEK = 2  # reviews come by twos: a page holds a week
MOST_PIECES, LONG_PIECE_S = 7, 270  # a day whose pieces would be longer on average gets another
MOST_TURNS = 6  # so often another turn is tried for a day that came out like an earlier one


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
    turns = list(range(asked.days))
    days = _days(asked, focuses, turns)
    for _ in range(MOST_TURNS):
        alike = [index for index, day in enumerate(days) if day in days[:index]]
        if not alike:
            break
        turns = [turn + (index in alike) for index, turn in enumerate(turns)]
        days = _days(asked, focuses, turns)
    return days, focuses


def _days(asked: WeekProblem, focuses: Sequence[Focus], turns: Sequence[int]) -> tuple[PracticeDay, ...]:
    """Make a week; ``turns`` says of each day whose turn it is in the lists that days go through."""
    drafts = [_day(asked, focuses, index, turn) for index, turn in enumerate(turns)]
    return tuple(_filled(pieces, asked.seconds_a_day) for pieces in on_one_beat(drafts))


def week_focuses(asked: WeekProblem) -> tuple[Focus, ...]:
    """Return what the week works on: faults first, those of one hand and kind together; then what comes next.

    What a teacher marked to be used comes second at the latest.
    """
    of_faults = list(_fault_focuses(asked))
    taken = {focus.choice.exercise for focus in of_faults}
    free = [choice for choice in asked.targets if choice.exercise not in taken]
    leading = [Focus(choice, NEW_STEPS) for choice in free if choice.leads][:MOST_TO_USE]
    others = [Focus(choice, NEW_STEPS) for choice in free if not choice.leads]
    drops = bool(free) and free[0].stroke is None  # each hand gets its own
    new = NEW_A_WEEK + (drops or asked.seconds_a_day > LONG_DAY_S)
    room = max(new - len(of_faults) - len(leading), 0 if of_faults and leading else 1)
    return (*of_faults[:1], *leading, *of_faults[1:], *others[:room])


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


def _day(asked: WeekProblem, focuses: Sequence[Focus], index: int, turn: int) -> list[Piece]:
    """Put a day's pieces in their order; a long day gets more of them, no longer ones."""
    on = DayAt(index / (max(asked.days, WHOLE_WEEK) - 1), asked.stands)
    first, others = _by_day(asked, focuses, turn)
    record = _record(asked, on)
    second = _second(others, turn, on)
    last = bool(second) and asked.days >= DAYS_WITH_STEPS and index == asked.days - 1
    main = _focus_pieces(asked, first, turn, on, whole=last)
    day = [*main, *second, *record]
    warm_up = _warm_up(asked, turn, main)
    review = _review(asked, turn, on, [*day, *warm_up])
    extra = _extra(asked, on, [*day, *review])
    if _has_room(asked, [*warm_up, *day, *review, *extra]) and len(others) > 1:
        second += _second(others, turn + 1, on)
    if _has_room(asked, [*warm_up, *main, *second, *review, *extra, *record]):
        review += _review(asked, turn + 1, on, [*warm_up, *main, *second, *record, *review, *extra])
    late = index >= (asked.days + 1) // 2
    middle = [*main[:1], *second, *review, *main[1:]] if late else [*main, *second, *review]
    return [*warm_up, *middle, *extra, *record]


def _by_day(asked: WeekProblem, focuses: Sequence[Focus], turn: int) -> tuple[Focus, tuple[Focus, ...]]:
    """Return what a day works on first, and what else; a short day works on one thing, faults by turns."""
    others = tuple(focuses[1:])
    if asked.seconds_a_day >= SECOND_FROM_S:
        return focuses[0], others
    faulty = [focus for focus in others if focus.faults]
    other = bool(faulty) and turn % 2 == 1
    return faulty[turn // 2 % len(faulty)] if other else focuses[0], ()


def _has_room(asked: WeekProblem, day: Sequence[Piece]) -> bool:
    """Tell whether a day's pieces are few enough, and long enough, for one more."""
    return len(day) < MOST_PIECES and asked.seconds_a_day > LONG_PIECE_S * len(day)


def _focus_pieces(asked: WeekProblem, focus: Focus, turn: int, on: DayAt, *, whole: bool) -> list[Piece]:
    """Make the step of the first focus whose turn it is, and the exercise itself; ``whole``, no step."""
    again = again_piece(focus, on, FOCUS_SHARE / 2)
    if asked.seconds_a_day < STEP_FROM_S or whole:
        return [again]
    step = _step(focus, turn, on, FOCUS_SHARE / 2)
    return [again] if step is None else [step, again]


def _step(focus: Focus, turn: int, on: DayAt, share: float) -> Piece | None:
    """Make the step whose turn it is; one that cannot be made of the exercise gives way to another."""
    asked = dict.fromkeys((*focus.steps, *OTHER_STEPS))
    made = [piece for step in asked if (piece := step_piece(focus, step, on, share)) is not None]
    kept = made[: len(focus.steps)]
    return kept[turn % len(kept)] if kept else None


def _second(others: Sequence[Focus], turn: int, on: DayAt) -> list[Piece]:
    """Make the second focus block: by turns what else the week works on, a step first and then the whole."""
    if not others:
        return []
    focus, round_ = others[turn % len(others)], turn // len(others)
    if focus.faults and round_ % 2 == 0:
        piece = _step(focus, round_ // 2, on, SECOND_SHARE)
        if piece is not None:
            return [piece]
    return [again_piece(focus, on, SECOND_SHARE)]


def _review(asked: WeekProblem, turn: int, on: DayAt, day: Sequence[Piece]) -> list[Piece]:
    """Take up what was learnt before: two things a week, each with days between."""
    taken = {as_played(piece.exercise) for piece in day}  # in other note values it is still the same
    free = [choice for choice in asked.reviews if as_played(choice.exercise) not in taken]
    if asked.seconds_a_day < REVIEW_FROM_S or not free:
        return []
    choice = free[_of_the_week(asked, turn, len(free))]
    why = (Remark("learnt before", {"n": asked.stands(choice.exercise, choice.stroke).takes}),)
    return [other_piece(choice, "review", "purpose review", why, on=on, share=REVIEW_SHARE)]


def as_played(exercise: Exercise) -> tuple[tuple[Hand | None, bool, int], ...]:
    """Return what is played, whatever its note values."""
    return tuple((note.hand, note.accent, len(note.graces)) for note in exercise.notes)


def _of_the_week(asked: WeekProblem, turn: int, n: int) -> int:
    """Return the place in a list of which each week takes the next two, by turns, shifted after two."""
    return (A_WEEK * asked.seed + (turn + turn // (2 * A_WEEK)) % A_WEEK) % n


def _extra(asked: WeekProblem, on: DayAt, day: Sequence[Piece]) -> list[Piece]:
    """Add the week's fast, long or musical thing where the stage has one that no fault stands against.

    What is fast or long waits while any fault is heard in half of the newest takes.
    """
    taken = {as_played(piece.exercise) for piece in day}
    taken |= {as_played(choice.exercise) for choice in asked.reviews}  # on all days the same
    often = any(fault.audible and 2 * fault.takes >= fault.of for fault in asked.faults)
    free = [
        (kind, choice)
        for kind, choice in asked.extras
        if as_played(choice.exercise) not in taken
        and not asked.stands(choice.exercise, choice.stroke).faults
        and (kind == "music" or not often)
    ]
    if asked.seconds_a_day < EXTRA_FROM_S or not free:
        return []
    kind, choice = free[asked.seed % len(free)]
    why = (Remark("next in the library", {"track": choice.track}),)
    block: Block = "music" if kind == "music" else "speed"
    go_s = {"speed": SHORT_GO_S, "endurance": LONG_GO_S, "music": USUAL_GO_S}[kind]
    return [other_piece(choice, block, EXTRAS[kind], why, on=on, share=EXTRA_SHARE, go_s=go_s)]


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


def _warm_up(asked: WeekProblem, turn: int, main: Sequence[Piece]) -> list[Piece]:
    """Begin with something easy that is not worked on anyway; the strokes that are kept up come by turns."""
    if asked.seconds_a_day < WARM_UP_FROM_S or not asked.warm_ups:
        return []
    worked = {(piece.part_of, piece.stage.stroke) for piece in main if piece.stage.stroke}
    others = [each for each in asked.warm_ups if (each.exercise, each.stroke) not in worked]
    easy = others if asked.seconds_a_day >= REVIEW_FROM_S and others else asked.warm_ups
    n = len(easy)
    choice = easy[(turn if n % 2 else turn + turn // n) % n]  # not always beside the same step
    kept = Remark("keeps up a stroke", {"stroke": choice.stroke or ""})
    why = (kept if choice.kept_up else Remark("easy to begin with"),)
    on = DayAt(0.0, asked.stands)
    return [other_piece(choice, "warm-up", "purpose warm-up", why, on=on, share=WARM_UP_SHARE)]


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
