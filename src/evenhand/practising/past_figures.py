"""What a past take says: how far apart its notes came, and its figures by hand.

Conventions: a measure goes by its place in the take's JSON; tempos are turned into notes a minute.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from statistics import median

from evenhand.domain.audible import audible_ms
from evenhand.domain.ceiling import TriedRepetition
from evenhand.domain.exercise import Hand, note_value
from evenhand.domain.history import PastTake
from evenhand.domain.measures import Measure

HANDS: tuple[Hand, Hand] = ("R", "L")


def interval_ms(take: PastTake) -> float | None:
    """Return the median time between neighbouring notes, at the tempo played."""
    exercise = take.exercise
    if not exercise.struck:
        return None
    starts = [float(exercise.starts[place]) for place in exercise.struck]
    steps = [b - a for a, b in pairwise([*starts, starts[0] + float(exercise.length)])]
    return median(steps) * 60_000.0 / (played_bpm(take) * float(take.tempo.beat))


def played_bpm(take: PastTake) -> float:
    """Return the tempo played, or the one asked for where none was measured."""
    measured = take.measures.get("tempo_bpm")
    return take.tempo.bpm if measured is None or not measured.value else measured.value


def audible_in(take: PastTake) -> float:
    """Return the smallest displacement that is heard at a take's tempo, ms."""
    return audible_ms(interval_ms(take))


def of_hands(take: PastTake, group: str, name: str) -> Mapping[Hand, Measure]:
    """Return a figure of each hand that has one."""
    found = {hand: take.measures.get(f"{group}.{hand}.{name}") for hand in HANDS}
    return {hand: measure for hand, measure in found.items() if measure is not None}


def notes_a_minute(take: PastTake, tried: TriedRepetition) -> float:
    """Return how many of an exercise's usual notes go into a minute of a repetition's tempo."""
    return tried.tempo_bpm * float(take.tempo.beat / note_value(take.exercise))
