"""The next week: which exercises on which day, how fast, how often, with rests, to the second.

Conventions: a turn is one exercise in one go, ``seconds`` long, with a rest after it that may be from
``SHORTEST_REST_S`` to ``LONGEST_REST_S``; a day's seconds are its turns and rests. What to choose for each
part of a day (the stage's own stroke, and others kept up beside it) is a whole-number program, solved by
HiGHS: how many turns of each, so that turns and rests can add up to the seconds given, and the value of what
is practised is greatest. A second turn of the same exercise is worth less than its first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.errors import WrongOptions
from evenhand.integer_program import Constraint, Program, solve
from evenhand.music.exercise import Tempo, note_value
from evenhand.planning.practice import (
    PracticeChoice,
    PracticeDay,
    PracticeItem,
    PracticePlan,
    notes_a_minute,
    repetitions_for,
    tempo_for,
    turn_seconds,
)
from evenhand.progress.stages.path import Stage
from evenhand.take import Fact, Remark

SHORTEST_REST_S, LONGEST_REST_S = 8, 40
WORTH_AGAIN = (1.0, 0.45, 0.25, 0.12)  # of a first turn, a second ...
TURNS_FADE = 0.8  # of a further one against the one before, where a day is so long that it takes more
COVER_WORTH = 2.0  # of a hand change that the week has not had yet
GAP, TIME_LIMIT_S = 0.05, 2.0


@dataclass(frozen=True, slots=True)
class PracticeTurn:
    """An exercise in one go: how long that takes, and what it is worth."""

    seconds: int
    worth: float
    changes: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Schedule:
    """How many of each turn, and the rest after each turn in the order they will be played."""

    counts: tuple[int, ...]
    rests_s: tuple[int, ...]


def schedule(
    turns: Sequence[PracticeTurn],
    seconds: int,
    wanted_changes: frozenset[str] = frozenset(),
) -> Schedule:
    """Choose turns whose seconds and rests add up to the seconds given.

    Parameters
    ----------
    turns
        What can be chosen.
    seconds
        What the turns and their rests, the last one's too, must add up to.
    wanted_changes
        Hand changes that are worth more, for the week lacks them.
    """
    again = worth_again(turns, seconds)
    counts = _chosen(turns, seconds, wanted_changes, again)
    if counts is None:
        counts = _as_near_as_can_be(turns, seconds, len(again))
    return _with_rests(turns, counts, seconds)


def worth_again(turns: Sequence[PracticeTurn], seconds: int) -> tuple[float, ...]:
    """Return what a first, a second ... turn is worth: as many as the seconds may need."""
    once_s = sum(turn.seconds + SHORTEST_REST_S for turn in turns)
    more = max(0, seconds // max(once_s, 1) + 1 - len(WORTH_AGAIN))
    return (*WORTH_AGAIN, *(WORTH_AGAIN[-1] * TURNS_FADE ** (k + 1) for k in range(more)))


def _chosen(
    turns: Sequence[PracticeTurn], seconds: int, wanted: frozenset[str], worths: tuple[float, ...]
) -> tuple[int, ...] | None:
    """Solve the program; None where no turns add up.

    The unknowns are, for each turn, whether it is taken a first time, a second ...; then, for each wanted
    hand change, whether it is had.
    """
    again = len(worths)
    n, changes = len(turns), sorted(wanted & frozenset().union(*(turn.changes for turn in turns)))
    worth = np.concatenate(
        [
            (np.array([turn.worth for turn in turns])[:, None] * np.array(worths)).ravel(),
            np.full(len(changes), COVER_WORTH),
        ]
    )
    program = Program(
        cost=-worth,
        whole=np.arange(worth.size) < n * again,
        rows=_limits(turns, seconds, changes, again),
    )
    values = solve(program, time_limit_s=TIME_LIMIT_S, gap=GAP).values
    if values is None:
        return None
    taken = np.rint(values[: n * again]).reshape(n, again).sum(axis=1)
    return tuple(int(count) for count in taken)


def _limits(
    turns: Sequence[PracticeTurn], seconds: int, changes: Sequence[str], again: int
) -> list[Constraint]:
    """Write the program's rows: the seconds that must be filled, and what hand changes are had.

    That a first turn comes before a second needs no row: it is worth more.
    """
    n = len(turns)
    lengths = np.repeat([float(turn.seconds) for turn in turns], again)
    taken = np.arange(n * again, dtype=np.int32)
    rows = [
        Constraint(taken, lengths + SHORTEST_REST_S, high=float(seconds)),
        Constraint(taken, lengths + LONGEST_REST_S, low=float(seconds)),
    ]
    for j, change in enumerate(changes):
        first = [i * again for i, turn in enumerate(turns) if change in turn.changes]
        columns = np.array([*first, n * again + j], dtype=np.int32)
        rows.append(Constraint(columns, np.append(np.ones(len(first)), -1.0), low=0.0))
    return rows


def _as_near_as_can_be(turns: Sequence[PracticeTurn], seconds: int, most: int) -> tuple[int, ...]:
    """Take turns one after the other while they fit: for seconds that no turns add up to."""
    counts = [0] * len(turns)
    left, taken = seconds, True
    while taken:
        taken = False
        for i in sorted(range(len(turns)), key=lambda i: -turns[i].worth):
            if turns[i].seconds + SHORTEST_REST_S <= left and counts[i] < most:
                counts[i] += 1
                left -= turns[i].seconds + SHORTEST_REST_S
                taken = True
    return tuple(counts)


def _with_rests(turns: Sequence[PracticeTurn], counts: tuple[int, ...], seconds: int) -> Schedule:
    """Share out what the turns leave as rests, as alike as whole seconds allow."""
    n = sum(counts)
    if n == 0:
        return Schedule(counts, ())
    played = sum(turn.seconds * count for turn, count in zip(turns, counts, strict=True))
    left = min(seconds - played, n * LONGEST_REST_S)
    each, over = divmod(max(left, 0), n)
    return Schedule(counts, tuple(each + (i < over) for i in range(n)))


PAGE = 12  # exercises a week: what a page holds and a student remembers (a convention)
MOST_BESIDE = 0.5  # of the day, for strokes kept up beside the stage's own
LEAST_BESIDE_S = 90  # less of a stroke beside is not worth its place
FADES = 0.35  # of its worth, for each time an exercise was practised this week more than others
JITTER = 0.02
WEAK_WORTH = 1.0
NEAR_S = 15


@dataclass(frozen=True, slots=True)
class WeekProblem:
    """What is asked of a week. ``beside`` holds other stages and their seconds a day."""

    seconds_a_day: int
    days: int
    stage: Stage
    choices: tuple[PracticeChoice, ...]
    beside: tuple[tuple[Stage, int], ...] = ()
    seed: int = 0


def plan_days(asked: WeekProblem) -> tuple[PracticePlan, tuple[PracticeChoice, ...]]:
    """Plan a week; return it with the page of exercises that it was made from.

    What is kept up beside is the same each day.

    Raises
    ------
    WrongOptions
        Where not even one turn fits into a day.
    """
    page = choose_page(asked.choices, asked.seed)
    wanted = frozenset().union(*(choice.changes for choice in page))
    so_far: Counter[int] = Counter()
    *beside, (_, seconds) = _parts(asked)
    beside_items = [
        item
        for stage, its_s in beside
        for item in _schedule_part(stage, its_s, page, 0.0, wanted, so_far, main=False)
    ]
    had: set[str] = set()
    days = []
    for day in range(asked.days):
        through = day / (asked.days - 1) if asked.days > 1 else 0.0
        items = [
            *beside_items,
            *_schedule_part(asked.stage, seconds, page, through, wanted - had, so_far, main=True),
        ]
        _check(items, asked, page)
        had |= {change for item in items for change in _changes_of(item, page)}
        days.append(PracticeDay(tuple(items)))
    return PracticePlan(tuple(days)), page


def choose_page(choices: Sequence[PracticeChoice], seed: int) -> tuple[PracticeChoice, ...]:
    """Choose the week's exercises: what is worth most, each for what it adds, then easy to hard.

    The seed decides between those that are as good as each other.
    """
    jitter = np.random.default_rng(seed).uniform(0, JITTER, len(choices))
    worths = {id(choice): choice.worth + off for choice, off in zip(choices, jitter, strict=True)}
    left, page = list(choices), list[PracticeChoice]()
    had: set[str] = set()
    while left and len(page) < PAGE:
        best = max(left, key=lambda choice: worths[id(choice)] + 0.5 * len(choice.changes - had))
        left.remove(best)
        page.append(best)
        had |= best.changes
    return tuple(sorted(page, key=lambda choice: choice.rank))


def _parts(asked: WeekProblem) -> list[tuple[Stage, int]]:
    """Share out a day: what is kept up beside comes first, the stage's own work has the rest."""
    room = int(asked.seconds_a_day * MOST_BESIDE)
    wanted = sum(seconds for _, seconds in asked.beside)
    shrink = min(1.0, room / wanted) if wanted else 1.0
    shrunk = [(stage, int(seconds * shrink)) for stage, seconds in asked.beside]
    beside = [(stage, seconds) for stage, seconds in shrunk if seconds >= LEAST_BESIDE_S]
    left = asked.seconds_a_day - sum(seconds for _, seconds in beside)
    return [*beside, (asked.stage, left)]


def _schedule_part(
    stage: Stage,
    seconds: int,
    page: Sequence[PracticeChoice],
    through: float,
    wanted: frozenset[str],
    so_far: Counter[int],
    *,
    main: bool,
) -> list[PracticeItem]:
    """Fill one part of a day with turns in rounds, each easy to hard, so that none comes in one block."""
    planned = [_planned(stage, choice, through if main else 0.0) for choice in page]
    mean = sum(so_far.values()) / len(page)
    turns = [
        PracticeTurn(
            seconds=turn_seconds(item.exercise, item.tempo, item.repetitions),
            worth=_worth(choice) / (1 + FADES * max(so_far[i] - mean, 0.0)),
            changes=choice.changes,
        )
        for i, (choice, item) in enumerate(zip(page, planned, strict=True))
    ]
    scheduled = schedule(turns, seconds, wanted)
    order = [
        i
        for again in range(max(scheduled.counts, default=0))
        for i in range(len(page))
        if scheduled.counts[i] > again
    ]
    so_far.update(order)
    return [
        PracticeItem(
            planned[i].exercise,
            planned[i].tempo,
            planned[i].repetitions,
            float(turns[i].seconds),
            stage.stroke,
            float(rest),
            planned[i].title,
            _why(stage, page[i], planned[i], main=main),
        )
        for i, rest in zip(order, scheduled.rests_s, strict=True)
    ]


def _planned(stage: Stage, choice: PracticeChoice, through: float) -> PracticeItem:
    tempo = tempo_for(stage, choice, through)
    repetitions = repetitions_for(stage, choice.exercise, tempo, through)
    return PracticeItem(choice.exercise, tempo, repetitions, 0.0, stage.stroke, title=choice.title)


def _worth(choice: PracticeChoice) -> float:
    return max(0.1, choice.worth + WEAK_WORTH * (choice.weak_share - 0.5))


def _why(stage: Stage, choice: PracticeChoice, item: PracticeItem, *, main: bool) -> tuple[Remark, ...]:
    """Say why this exercise, and why at this tempo."""
    if not main:
        return Remark("keeps up a stroke", {"stroke": stage.stroke or ""}), _tempo_why(stage, choice, item)
    why = choice.why if stage.stroke is not None else (Remark("only drop"),)
    return (*why, _tempo_why(stage, choice, item))


def _tempo_why(stage: Stage, choice: PracticeChoice, item: PracticeItem) -> Remark:
    if choice.ceiling_notes is None:
        return Remark("new exercise" if choice.goes_notes is None else "went well so far")
    beats = float(note_value(choice.exercise) / item.tempo.beat)
    ceiling, fastest = choice.ceiling_notes * beats, notes_a_minute(stage)[1] * beats
    facts: dict[str, Fact] = {
        "percent": 100 * item.tempo.bpm / ceiling,
        "ceiling": str(Tempo(item.tempo.beat, round(ceiling))),
    }
    capped = item.tempo.bpm >= fastest
    return Remark("as fast as the stage" if capped else "share of the ceiling", facts)


def _changes_of(item: PracticeItem, page: Sequence[PracticeChoice]) -> frozenset[str]:
    return next(choice.changes for choice in page if choice.exercise is item.exercise)


def _check(items: Sequence[PracticeItem], asked: WeekProblem, page: Sequence[PracticeChoice]) -> None:
    """Refuse a day that could not be filled."""
    total = sum(item.seconds + item.rest_s for item in items)
    if abs(total - asked.seconds_a_day) <= NEAR_S:
        return
    shortest = min(
        turn_seconds(item.exercise, item.tempo, item.repetitions)
        for item in (_planned(asked.stage, choice, 0.0) for choice in page)
    )
    if total < asked.seconds_a_day and items and total > asked.seconds_a_day - NEAR_S - shortest:
        why = f"turns of {shortest} s and more do not add up to it"
    elif not items:
        why = f"the shortest turn takes {shortest + SHORTEST_REST_S} s with its rest"
    else:
        why = f"{len(page)} exercises fill no more than {total / 60:.0f} min, each a few times"
    got = f"{asked.seconds_a_day / 60:g} min a day"
    raise WrongOptions(got=got, must_be=f"another length, or another book: {why}")
