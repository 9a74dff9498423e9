"""Judge one drop: how much of its speed the stick keeps, how high it was, and whether it was left alone.

Conventions: times in seconds, rising; levels in dB re full scale; heights in cm of a free fall.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenhand.domain.bounce import DropKind, HeardDrop
from evenhand.domain.measures import Measure
from evenhand.practising.loudness import Loudness
from evenhand.practising.restitution import MOST_KEPT, Estimate, Floats, Ints, LawFit, fit_law

FEWEST_FOR_SURE = 4  # blows
WIDEST_SURE = 0.25  # of the interval of restitution
SHORTEST_TOLD_S = 0.025  # a flight that the ear can tell surely
SHORTEST_OF_PAD_S = (
    0.060  # electronic pads tell no second blow sooner for sure (common practice: 10 to 50 ms)
)
DB_PER_LOG = 20 / math.log(10)
SHORTEST_SOONER_S = 0.035  # and one that can be told to be cut short
_SOONER, _SOONER_SPREADS = 0.15, 4.0  # ln: a flight shorter by that much than the law was cut short
_UNDER_DB = 6.0  # a blow would have stood out above what sounds, were it there
_LEVELS = 4  # last blows whose level tells the next one's
_AROUND = 0.35  # of a flight, around where a blow is due
_FEWEST_FLIGHTS = 3  # before a finger can be told


@dataclass(frozen=True, slots=True)
class BlowsOfDrop:
    """What was heard of one drop: which blow of the law each is, and hits off the law behind them."""

    times_s: Floats
    numbers: Ints
    after_s: Floats
    levels_db: Floats | None = None  # of ``times_s``, where a pad has measured them


@dataclass(frozen=True, slots=True)
class PadFloor:
    """The softest blow that an electronic pad has told in a take, dB."""

    level_db: float


@dataclass(frozen=True, slots=True)
class _Verdict:
    """What a drop was, why, and from where on it is not free."""

    kind: DropKind
    why: str
    from_s: float | None = None


def judge_drop(
    blows: BlowsOfDrop, loudness: Loudness | PadFloor | None, label: str | None = None
) -> HeardDrop:
    """Judge one drop.

    ``loudness`` tells whether a blow that did not come would have been noticed: the take's own, or how soft
    a blow an electronic pad still told; without it nothing is said of a stick that was held.
    """
    free = _before_a_finger(blows.times_s, blows.numbers)
    fit = fit_law(blows.times_s[:free], blows.numbers[:free])
    verdict = _verdict(blows, free, fit, loudness)
    hits = np.concatenate([blows.times_s, blows.after_s])
    n = 0 if fit is None else fit.n_flights
    return HeardDrop(
        start_s=float(hits[0]),
        hits_s=tuple(hits.tolist()),
        bounces=int(blows.numbers[-1]) + 1 + len(blows.after_s),
        rings_s=float(hits[-1] - hits[0]),
        restitution=_measure(None if fit is None else fit.restitution(), n, "share"),
        first_height_cm=_measure(None if fit is None else fit.first_height_cm(), n, "cm"),
        rebound_height_cm=_measure(None if fit is None else fit.rebound_height_cm(), n, "cm"),
        kind=verdict.kind,
        why=verdict.why,
        label=label,
        damped_from_s=verdict.from_s,
    )


def _measure(estimate: Estimate | None, n: int, unit: str) -> Measure:
    """Give an estimate as a figure; ``n`` counts flights."""
    if estimate is None:
        return Measure(None, n, unit, None, 2)
    return Measure(estimate.value, n, unit, estimate.ci95)


def _before_a_finger(times_s: Floats, numbers: Ints) -> int:
    """Return how many blows follow the law before a flight is cut short; all, where none is."""
    for blows in range(_FEWEST_FLIGHTS + 1, len(times_s)):
        flight = float(times_s[blows] - times_s[blows - 1])
        before = float(times_s[blows - 1] - times_s[blows - 2])
        if flight > math.exp(-_SOONER) * before or numbers[blows] != numbers[blows - 1] + 1:
            continue
        fit = fit_law(times_s[:blows], numbers[:blows])
        if fit is None:
            continue
        due, spread = fit.next_log_flight(int(numbers[blows - 1]))
        short = due - math.log(flight)
        if short > _SOONER and short > _SOONER_SPREADS * spread and math.exp(due) > SHORTEST_TOLD_S:
            return blows
    return len(times_s)


def _verdict(
    blows: BlowsOfDrop, free: int, fit: LawFit | None, loudness: Loudness | PadFloor | None
) -> _Verdict:
    """Say what the drop was."""
    last = float(blows.times_s[free - 1])
    if fit is None:
        return _Verdict("unsure", f"{_count(len(blows.times_s))} heard: too few to tell.")
    if len(blows.times_s) >= FEWEST_FOR_SURE and fit.restitution().value > MOST_KEPT:
        return _Verdict(
            "unsure",
            "The time between its hits hardly gets shorter: these were strokes, not a stick left alone.",
        )
    due_s = math.exp(fit.next_log_flight(int(blows.numbers[free - 1]))[0])
    sooner = free < len(blows.times_s) or len(blows.after_s) > 0
    if sooner and due_s > SHORTEST_SOONER_S:
        number = int(blows.numbers[free - 1]) + 1
        why = f"After hit {number} it came down sooner than by itself: a finger damped it."
        return _Verdict("damped", why, last)
    if _held(blows, due_s, fit, loudness):
        why = (
            f"After hit {int(blows.numbers[-1]) + 1} no more came, though the next would have been heard: "
            "it was held."
        )
        return _Verdict("damped", why, last)
    return _left_alone(blows, fit)


def _left_alone(blows: BlowsOfDrop, fit: LawFit) -> _Verdict:
    """Say of a drop that nothing damped whether that is sure."""
    low, high = fit.restitution().ci95
    if len(blows.times_s) < FEWEST_FOR_SURE:
        return _Verdict("unsure", f"{_count(len(blows.times_s))} heard: too few to tell.")
    if high - low > WIDEST_SURE:
        return _Verdict("unsure", "The time between its hits shrinks too unevenly to tell.")
    return _Verdict("free", "It bounced on by itself until its hits could no longer be told apart.")


def _count(blows: int) -> str:
    """Count blows."""
    return "Only one hit was" if blows == 1 else f"Only {blows} hits were"


def _held(blows: BlowsOfDrop, due_s: float, fit: LawFit, loudness: Loudness | PadFloor | None) -> bool:
    """Tell whether the next blow was due, would have been heard, and was not there."""
    if due_s < SHORTEST_TOLD_S or len(blows.times_s) < FEWEST_FOR_SURE:
        return False
    if loudness is None or isinstance(loudness, PadFloor):
        return loudness is not None and _pad_would_tell(blows, due_s, fit, loudness)
    last = float(blows.times_s[-1])
    start, end = last + (1 - _AROUND) * due_s, last + (1 + _AROUND) * due_s
    if end > loudness.end_s:  # the recording was stopped first
        return False
    level = _next_level_db(blows, fit, loudness)
    return loudness.loudest_db(start, end) < level - _UNDER_DB


def _pad_would_tell(blows: BlowsOfDrop, due_s: float, fit: LawFit, floor: PadFloor) -> bool:
    """Tell whether a pad would have told the next blow: late enough after the last, and loud enough."""
    if blows.levels_db is None or due_s < SHORTEST_OF_PAD_S:
        return False
    next_db = float(blows.levels_db[-1]) + DB_PER_LOG * fit.log_kept
    return next_db > floor.level_db + _UNDER_DB


def _next_level_db(blows: BlowsOfDrop, fit: LawFit, loudness: Loudness) -> float:
    """Return how loud the next blow would be: sound follows speed, and a blow keeps e of it."""
    step_db = DB_PER_LOG * fit.log_kept
    number = int(blows.numbers[-1]) + 1
    told = [
        loudness.loudest_db(t, t) + step_db * (number - k)
        for t, k in zip(blows.times_s[-_LEVELS:].tolist(), blows.numbers[-_LEVELS:].tolist(), strict=True)
    ]
    return float(np.median(told))
