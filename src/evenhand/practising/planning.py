"""The next week: which exercises on which day, how fast, how often, with rests, to the second.

Conventions: a day's seconds are turns and the rests after them. Each part of a day (the
stage's own stroke, and others kept up beside it) is filled by ``filling``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.domain.exercise import note_value
from evenhand.domain.path import Stage
from evenhand.domain.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.domain.stroke import StrokeClass
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions
from evenhand.practising.filling import SHORTEST_REST_S, Turn, fill
from evenhand.practising.turns import (
    Choice,
    notes_a_minute,
    repetitions_for,
    tempo_for,
    turn_seconds,
)

PAGE = 12  # exercises a week: what a page holds and a student remembers (a convention)
MOST_BESIDE = 0.5  # of the day, for strokes kept up beside the stage's own
LEAST_BESIDE_S = 90  # less of a stroke beside is not worth its place
FADES = 0.35  # of its worth, for each time an exercise was practised this week more than others
JITTER = 0.02
WEAK_WORTH = 1.0
NEAR_S = 15


@dataclass(frozen=True, slots=True)
class PlanAsked:
    """What is asked of a week. ``beside`` holds other stages and their seconds a day."""

    seconds_a_day: int
    days: int
    stage: Stage
    choices: tuple[Choice, ...]
    beside: tuple[tuple[Stage, int], ...] = ()
    seed: int = 0


def plan_days(asked: PlanAsked) -> tuple[PracticePlan, tuple[Choice, ...]]:
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
        for item in _fill_part(stage, its_s, page, 0.0, wanted, so_far, main=False)
    ]
    had: set[str] = set()
    days = []
    for day in range(asked.days):
        through = day / (asked.days - 1) if asked.days > 1 else 0.0
        items = [
            *beside_items,
            *_fill_part(asked.stage, seconds, page, through, wanted - had, so_far, main=True),
        ]
        _check(items, asked, page)
        had |= {change for item in items for change in _changes_of(item, page)}
        days.append(PracticeDay(tuple(items)))
    return PracticePlan(tuple(days)), page


def choose_page(choices: Sequence[Choice], seed: int) -> tuple[Choice, ...]:
    """Choose the week's exercises: what is worth most, each for what it adds, then easy to hard.

    The seed decides between those that are as good as each other.
    """
    jitter = np.random.default_rng(seed).uniform(0, JITTER, len(choices))
    worths = {id(choice): choice.worth + off for choice, off in zip(choices, jitter, strict=True)}
    left, page = list(choices), list[Choice]()
    had: set[str] = set()
    while left and len(page) < PAGE:
        best = max(left, key=lambda choice: worths[id(choice)] + 0.5 * len(choice.changes - had))
        left.remove(best)
        page.append(best)
        had |= best.changes
    return tuple(sorted(page, key=lambda choice: choice.rank))


def _parts(asked: PlanAsked) -> list[tuple[Stage, int]]:
    """Share out a day: what is kept up beside comes first, the stage's own work has the rest."""
    room = int(asked.seconds_a_day * MOST_BESIDE)
    wanted = sum(seconds for _, seconds in asked.beside)
    shrink = min(1.0, room / wanted) if wanted else 1.0
    shrunk = [(stage, int(seconds * shrink)) for stage, seconds in asked.beside]
    beside = [(stage, seconds) for stage, seconds in shrunk if seconds >= LEAST_BESIDE_S]
    left = asked.seconds_a_day - sum(seconds for _, seconds in beside)
    return [*beside, (asked.stage, left)]


def _fill_part(
    stage: Stage,
    seconds: int,
    page: Sequence[Choice],
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
        Turn(
            seconds=turn_seconds(item.exercise, item.tempo, item.repetitions),
            worth=_worth(choice) / (1 + FADES * max(so_far[i] - mean, 0.0)),
            changes=choice.changes,
        )
        for i, (choice, item) in enumerate(zip(page, planned, strict=True))
    ]
    filled = fill(turns, seconds, wanted)
    order = [
        i
        for again in range(max(filled.counts, default=0))
        for i in range(len(page))
        if filled.counts[i] > again
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
        for i, rest in zip(order, filled.rests_s, strict=True)
    ]


def _planned(stage: Stage, choice: Choice, through: float) -> PracticeItem:
    tempo = tempo_for(stage, choice, through)
    repetitions = repetitions_for(stage, choice.exercise, tempo, through)
    return PracticeItem(choice.exercise, tempo, repetitions, 0.0, stage.stroke, title=choice.title)


def _worth(choice: Choice) -> float:
    return max(0.1, choice.worth + WEAK_WORTH * (choice.weak_share - 0.5))


STROKES: Mapping[StrokeClass | None, str] = {
    "tap": "taps",
    "half": "half strokes",
    "full": "full strokes",
    None: "rebound",
}


def _why(stage: Stage, choice: Choice, item: PracticeItem, *, main: bool) -> str:
    """Say in a line why this exercise, and why at this tempo."""
    if choice.ceiling_notes is None and choice.goes_notes is not None:
        tempo = "it went well at every tempo so far"
    elif choice.ceiling_notes is None:
        tempo = "new, so start slowly"
    else:
        value = note_value(choice.exercise)
        ceiling = choice.ceiling_notes * float(value / item.tempo.beat)
        fastest = notes_a_minute(stage)[1] * float(value / item.tempo.beat)
        said = f"the fastest tempo in control, {Tempo(item.tempo.beat, round(ceiling))}"
        capped = item.tempo.bpm >= fastest
        tempo = (
            f"as fast as this stage goes, which is under {said}"
            if capped
            else f"{100 * item.tempo.bpm / ceiling:.0f} % of {said}"
        )
    why = _exercise_why(stage, choice) if main else f"keeps up the {STROKES[stage.stroke]}"
    return f"{why[:1].upper()}{why[1:]}; {tempo}."


def _exercise_why(stage: Stage, choice: Choice) -> str:
    """Say why this exercise; where no stroke is thrown yet, what to do with the stick goes before it."""
    return choice.why if stage.stroke is not None else "only drop the stick, and let it bounce by itself"


def _changes_of(item: PracticeItem, page: Sequence[Choice]) -> frozenset[str]:
    return next(choice.changes for choice in page if choice.exercise is item.exercise)


def _check(items: Sequence[PracticeItem], asked: PlanAsked, page: Sequence[Choice]) -> None:
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
