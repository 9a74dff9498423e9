"""Two takes side by side: their pictures, and in which figures they differ by more than chance.

Conventions: a difference is the second take minus the first. Its 95 % range is made of the two
figures' own, which need not be even to both sides (Zou & Donner 2008, Stat Med 27:1693, "MOVER"):
``d - sqrt((b - low_b)^2 + (high_a - a)^2)`` to ``d + sqrt((high_b - b)^2 + (a - low_a)^2)``. The figures'
intervals are for one take's player; how a player's form goes from day to day is not in them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from evenhand.measuring.values import HeardTake, Measure
from evenhand.music.exercise import HAND_NAMES, HANDS
from evenhand.report.take.folded import factor_of
from evenhand.report.take.picture import folded_figure
from evenhand.report.take.report import facts_of
from evenhand.report.take.table import UNIT_WORDS
from evenhand.report.take.turns import turns_figure
from evenhand.report.words.figures import decimals_for, interval_words, plain, signed
from evenhand.report.words.measures import Figure, balance_figures, hand_figures
from evenhand.report.words.take import top_sentence
from evenhand.studio.takes.shown import engravings

Change = Literal["more", "less", "nearer", "further", "changed", "can't tell"]
Notice = Literal["exercise", "tempo", "hands", "nothing", "scale"]


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two: its sentence, its facts, its picture with ids of its own."""

    sentence: str
    facts: tuple[str, ...]
    figure: str


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure in both takes, in words; ``change`` is what the whole interval of the difference says."""

    name: str
    unit: str
    first: str
    second: str
    difference: str
    interval: str
    n: tuple[int, int]
    change: Change


@dataclass(frozen=True, slots=True)
class Beside:
    """Both takes, and both in turns. ``notices`` say what keeps them from being compared as they stand."""

    first: Side
    second: Side
    turns: str
    differences: tuple[Difference, ...]
    lacking: tuple[str, ...]
    notices: tuple[Notice, ...]


def side_by_side(first: HeardTake, second: HeardTake) -> Beside:
    """Put two heard takes side by side."""
    return Beside(
        _side(first, "a"),
        _side(second, "b"),
        _turns(first, second),
        *differences_of(first, second),
        tuple(notices_of(first, second)),
    )


def differences_of(first: HeardTake, second: HeardTake) -> tuple[tuple[Difference, ...], tuple[str, ...]]:
    """Compare the main figures of two takes; and name those for which one has too few strokes."""
    pairs = list(_pairs(first, second))
    found = [difference_of(name, a, b, signed_too=both_ways) for name, a, b, both_ways in pairs]
    return (
        tuple(each for each in found if each is not None),
        tuple(pair[0] for pair, each in zip(pairs, found, strict=True) if each is None),
    )


def _turns(first: HeardTake, second: HeardTake) -> str:
    """Draw both in turns; "" where they are not of the same notes."""
    if first.exercise is None or second.exercise is None or first.exercise.notes != second.exercise.notes:
        return ""
    return turns_figure(first, second, *engravings(first.exercise_text or "", "t"))


def difference_of(name: str, a: Measure, b: Measure, *, signed_too: bool = False) -> Difference | None:
    """Compare a figure of two takes; None where one of them has too few strokes for it.

    ``signed_too``: the figure is itself a difference, so its sign is written.
    """
    found = difference(a, b)
    if found is None or a.value is None or b.value is None:
        return None
    value, low, high = found
    decimals = decimals_for(a.unit)
    write = signed if signed_too else plain
    return Difference(
        name=name,
        unit=UNIT_WORDS.get(a.unit, a.unit),
        first=_with_interval(a, write(a.value, decimals)),
        second=_with_interval(b, write(b.value, decimals)),
        difference=signed(value, decimals),
        interval=interval_words((low, high), decimals),
        n=(a.n, b.n),
        change="can't tell" if low <= 0 <= high else _change(a.value, b.value, about_zero=signed_too),
    )


def _change(first: float, second: float, *, about_zero: bool) -> Change:
    """Say how a figure changed; one that is itself a difference comes nearer to zero, or goes from it."""
    if not about_zero:
        return "more" if second > first else "less"
    if first * second < 0:
        return "changed"
    return "nearer" if abs(second) < abs(first) else "further"


def difference(a: Measure, b: Measure) -> tuple[float, float, float] | None:
    """Return second minus first and its 95 % range; None where one of them has none.

    >>> difference(Measure(10.0, 40, "ms", (7.0, 13.0)), Measure(4.0, 40, "ms", (0.0, 8.0)))
    (-6.0, -11.0, -1.0)
    """
    if a.value is None or b.value is None or a.ci95 is None or b.ci95 is None:
        return None
    (low_a, high_a), (low_b, high_b) = a.ci95, b.ci95
    value = b.value - a.value
    below = math.hypot(b.value - low_b, high_a - a.value)
    above = math.hypot(high_b - b.value, a.value - low_a)
    return value, value - below, value + above


def _with_interval(measure: Measure, written: str) -> str:
    """Write a figure with its interval behind it."""
    return f"{written} ({interval_words(measure.ci95, decimals_for(measure.unit))})"


def _side(take: HeardTake, prefix: str) -> Side:
    """Draw one of the two, its ids opened by a letter of its own."""
    figure = ""
    if take.exercise is not None:
        drawn = folded_figure(take, *engravings(take.exercise_text or "", prefix))
        figure = drawn.replace('="desk-', f'="{prefix}-desk-').replace('="phone-', f'="{prefix}-phone-')
    return Side(top_sentence(take), tuple(facts_of(take)), figure)


Pair = tuple[str, Measure, Measure, bool]
COMPARED = ("timing_sd_ms", "level_sd_db", "second_minus_first_db", "over_taps_db", "gap_ms")  # of a hand


def _pairs(first: HeardTake, second: HeardTake) -> Iterator[Pair]:
    """Pair the main figures of both takes; the flag says whether a figure is itself a difference."""
    a, b = first.measures, second.measures
    if a is None or b is None:
        return
    if _beats(first) == _beats(second):
        yield "tempo", a.tempo_bpm, b.tempo_bpm, False
        yield "drift", a.drift_bpm_per_min, b.drift_bpm_per_min, True
    for hand in HANDS:
        for one, other in _both_have(hand_figures(a, hand), hand_figures(b, hand), of=COMPARED):
            yield f"{HAND_NAMES[hand]} hand, {one.name}", one.measure, other.measure, one.difference
    for one, other in _both_have(balance_figures(a), balance_figures(b)):
        yield one.name, one.measure, other.measure, one.difference


def _both_have(
    first: Sequence[Figure], second: Sequence[Figure], of: Collection[str] | None = None
) -> Iterator[tuple[Figure, Figure]]:
    """Pair the figures that both takes have."""
    by_key = {figure.key: figure for figure in second}
    for figure in first:
        if figure.key in by_key and (of is None or figure.key in of):
            yield figure, by_key[figure.key]


def _beats(take: HeardTake) -> object:
    return None if take.tempo is None else take.tempo.beat


def notices_of(first: HeardTake, second: HeardTake) -> Iterator[Notice]:
    """Say what keeps two takes from being compared as they stand."""
    if first.measures is None or second.measures is None:
        yield "nothing"
        return
    if first.exercise is not None and second.exercise is not None:
        if first.exercise.notes != second.exercise.notes:
            yield "exercise"
        elif first.tempo != second.tempo:
            yield "tempo"
    if first.heard.ambiguity or second.heard.ambiguity:
        yield "hands"
    if _factor(first) != _factor(second):
        yield "scale"


def _factor(take: HeardTake) -> float | None:
    if take.exercise is None:
        return None
    return factor_of(take, *engravings(take.exercise_text or ""))
