"""The take from start to end: tempo, spread and level in windows of neighbouring hits.

Conventions: seconds in the file's own time; tempo in beats a minute of the tempo's beat;
spread is the standard deviation (n - 1) of one hand's timing in a window, ms; levels in dB
against the take's middle. Windows never reach across a stop.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import StatisticsError, fmean, linear_regression

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.heard import Hit
from evenhand.domain.heard_take import HeardTake
from evenhand.pages.scale import middle_level_db

MOST_WINDOWS = 14
LEAST_HITS = 16
LEAST_FOR_SPREAD = 4


@dataclass(frozen=True, slots=True)
class Window:
    """Some neighbouring hits. A figure is None where too few stand behind it."""

    time_s: float
    stretch: int
    tempo_bpm: float | None
    spread_ms: dict[Hand, float | None]
    level_db: dict[Hand, float | None]
    n: int


@dataclass(frozen=True, slots=True)
class Course:
    """The windows of a take, and its stops as (last hit before, first hit after), seconds."""

    windows: tuple[Window, ...]
    stops_s: tuple[tuple[float, float], ...]
    start_s: float
    end_s: float
    takes_accents: bool


def course_of(take: HeardTake) -> Course:
    """Cut a take into windows and sum each up."""
    hits = [hit for hit in take.heard.hits if not hit.grace and hit.hand is not None]
    if not hits or take.exercise is None:
        return Course((), (), 0.0, 0.0, takes_accents=False)
    stretches = [list(group) for _, group in groupby(hits, key=lambda hit: hit.stretch)]
    size = max(LEAST_HITS, math.ceil(len(hits) / MOST_WINDOWS))
    plain = _plain_positions(take.exercise)
    middle = middle_level_db(take.heard)
    windows = [_window(cut, take, plain, middle) for stretch in stretches for cut in _cuts(stretch, size)]
    stops = tuple((a[-1].time_s, b[0].time_s) for a, b in pairwise(stretches))
    accents = len(plain) < len(take.exercise.struck)
    return Course(tuple(windows), stops, hits[0].time_s, hits[-1].time_s, accents)


def _plain_positions(exercise: Exercise) -> frozenset[int]:
    """Positions whose level counts: the unaccented, or all where every note is accented."""
    plain = frozenset(i for i in exercise.struck if not exercise.notes[i].accent)
    return plain or frozenset(exercise.struck)


def _cuts(stretch: Sequence[Hit], size: int) -> list[Sequence[Hit]]:
    """Cut an unbroken stretch into windows of nearly equal count."""
    parts = max(1, round(len(stretch) / size))
    edges = [round(i * len(stretch) / parts) for i in range(parts + 1)]
    return [stretch[a:b] for a, b in pairwise(edges)]


def _window(hits: Sequence[Hit], take: HeardTake, plain: frozenset[int], middle_db: float) -> Window:
    click = take.heard.clock == "click"
    spread: dict[Hand, float | None] = {}
    level: dict[Hand, float | None] = {}
    hands: tuple[Hand, Hand] = ("R", "L")
    for hand in hands:
        own = [hit for hit in hits if hit.hand == hand]
        lates = [hit.asynchrony_ms if click else hit.deviation_ms for hit in own]
        told = [late for late in lates if late is not None]
        levels = [hit.level_db for hit in own if hit.position in plain]
        spread[hand] = _spread(told) if len(told) >= LEAST_FOR_SPREAD else None
        level[hand] = fmean(levels) - middle_db if levels else None
    time_s = (hits[0].time_s + hits[-1].time_s) / 2
    return Window(time_s, hits[0].stretch, _tempo(hits, take), spread, level, len(hits))


def _spread(values: Sequence[float]) -> float:
    middle = fmean(values)
    return math.sqrt(sum((value - middle) ** 2 for value in values) / (len(values) - 1))


def _tempo(hits: Sequence[Hit], take: HeardTake) -> float | None:
    """Fit a straight line of time over written place; its slope is the tempo."""
    if take.tempo is None:
        return None
    told = [(hit.written, hit.time_s) for hit in hits if hit.written is not None]
    if len(told) < LEAST_FOR_SPREAD:
        return None
    try:
        seconds_a_whole, _ = linear_regression([w for w, _ in told], [t for _, t in told])
    except StatisticsError:
        return None
    if seconds_a_whole <= 0:
        return None
    return 60.0 / (seconds_a_whole * float(take.tempo.beat))
