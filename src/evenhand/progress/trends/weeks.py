"""Follow a student's exercises over the weeks: each exercise and stroke, each measure, each hand for itself.

Conventions: takes of the same notes and the same class of stroke belong together; days count from the first
of them. Takes that do not tell which hand is which are left out. Students are never averaged.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import numpy as np

from evenhand.measuring.values import AUDIBLE_LEVEL_DB, Measure
from evenhand.music.beat import felt_tempo
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo
from evenhand.progress.ceiling.estimate import FEWEST, posterior_of
from evenhand.progress.ceiling.over_weeks import (
    HORIZON,
    CeilingPosterior,
    ceiling_now,
    ceiling_posterior,
    tries_of,
)
from evenhand.progress.history import History, PastTake, audible_in, played_bpm
from evenhand.progress.trends.trajectory import (
    DAYS_A_WEEK,
    CeilingTrajectory,
    Direction,
    ExerciseProgress,
    FollowedMeasure,
    MeasureTrajectory,
    StudentProgress,
    TrajectoryPoint,
    WeekCeiling,
    WishedTempo,
    measure_trajectory,
)

FEWEST_DAYS = 2  # on fewer there is nothing to follow
BAND_POINTS = 25
REACHED = 0.975
FOLLOWED = (
    FollowedMeasure("hands.{hand}.timing_sd_ms", "timing, spread", "ms", "lower", 12.0),
    FollowedMeasure("hands.{hand}.level_sd_db", "level, spread", "dB", "lower", 3.0),
    FollowedMeasure("balance.level_db", "level, right minus left", "dB", "nearer nought", 5.0),
    FollowedMeasure("balance.timing_ms", "timing, right minus left", "ms", "nearer nought", 20.0),
    FollowedMeasure(
        "doubles.{hand}.second_minus_first_db", "second of two minus first", "dB", "nearer nought", 5.0
    ),
    FollowedMeasure(
        "doubles.{hand}.short_share",
        "first interval of a double",
        "% of two",
        "nearer nought",
        10.0,
        50.0,
        100.0,
    ),
    FollowedMeasure("hands.{hand}.timing_mean_ms", "timing, mean", "ms", "nearer nought", 20.0),
    FollowedMeasure("drift_bpm_per_min", "tempo, change over a take", "bpm a minute", "nearer nought", 10.0),
    FollowedMeasure("accents.{hand}.over_taps_db", "accents over unaccented", "dB", "neither", 6.0),
)


def follow(
    history: History, *, exercise: Exercise | None = None, wish: Tempo | None = None
) -> StudentProgress:
    """Follow all exercises of a student, or one; ``wish`` is a tempo that the ceilings may reach."""
    followed, single = [], 0
    for takes in _grouped(history.takes):
        if exercise is not None and takes[0].exercise.notes != exercise.notes:
            continue
        if len({take.day for take in takes}) < FEWEST_DAYS:
            single += 1
        else:
            followed.append(_followed(takes, wish))
    return StudentProgress(history.student, tuple(followed), history.left_out, single)


def _grouped(takes: Sequence[PastTake]) -> list[list[PastTake]]:
    """Put takes of the same notes and stroke together, in the order they were first played."""
    groups: dict[object, list[PastTake]] = {}
    for take in takes:
        if take.clear:
            groups.setdefault((take.exercise.notes, take.stroke), []).append(take)
    return list(groups.values())


def _followed(takes: Sequence[PastTake], wish: Tempo | None) -> ExerciseProgress:
    """Follow one exercise."""
    newest = takes[-1]
    return ExerciseProgress(
        exercise=newest.exercise,
        stroke=newest.stroke,
        takes=tuple(takes),
        trajectories=tuple(_trajectories(takes)),
        ceiling=_ceiling(takes, wish),
        tempos_bpm={"first": _in_beat(takes[0], newest.tempo.beat), "last": played_bpm(newest)},
    )


def _in_beat(take: PastTake, beat: Fraction) -> float:
    return played_bpm(take) * float(take.tempo.beat / beat)


def _trajectories(takes: Sequence[PastTake]) -> Iterator[MeasureTrajectory]:
    """Follow every measure that the takes have."""
    for followed in FOLLOWED:
        hands: Sequence[Hand | None] = HANDS if "{hand}" in followed.place else (None,)
        for hand in hands:
            place = followed.place.format(hand=hand)
            points = _points(takes, place, followed.scale)
            if points:
                yield measure_trajectory(followed, hand, points, _audible_from(followed, takes[-1]))


def _points(takes: Sequence[PastTake], place: str, scale: float) -> list[TrajectoryPoint]:
    found = [(take, take.measures.get(place)) for take in takes]
    return [
        TrajectoryPoint(take, _x(take, takes), _scaled(measure, scale))
        for take, measure in found
        if measure is not None and measure.value is not None
    ]


def _scaled(measure: Measure, scale: float) -> Measure:
    if scale == 1.0 or measure.value is None:
        return measure
    ci95 = None if measure.ci95 is None else (scale * measure.ci95[0], scale * measure.ci95[1])
    return replace(measure, value=scale * measure.value, ci95=ci95)


def _x(take: PastTake, takes: Sequence[PastTake]) -> float:
    return float((take.day - takes[0].day).days)


def _audible_from(followed: FollowedMeasure, newest: PastTake) -> float | None:
    """Return what an ear can tell of a measure, at the newest take's tempo."""
    if followed.better == "neither":
        return None
    return {"ms": audible_in(newest), "dB": AUDIBLE_LEVEL_DB}.get(followed.unit)


def _ceiling(takes: Sequence[PastTake], wish: Tempo | None) -> CeilingTrajectory | None:
    """Follow the ceiling; None where no repetition was judged."""
    beat = felt_tempo(takes[-1].exercise, takes[-1].tempo).beat if wish is None else wish.beat
    rows = [
        (_x(take, takes), each.tempo_bpm * float(take.tempo.beat / beat), each.controlled)
        for take in takes
        for each in take.tried
    ]
    if not rows:
        return None
    posterior = ceiling_posterior(tries_of(rows))
    now = ceiling_now(takes, beat)
    days = len({x for x, _, _ in rows})
    weeks = tuple(_weeks(takes, beat))
    nothing = Measure(None, len(rows), "bpm")
    percent = Measure(None, len(rows), "%")
    if posterior is None:
        return CeilingTrajectory(
            beat, weeks, nothing, nothing, percent, "can't tell", len(rows), days, now=now
        )
    start, end = (_at(posterior, x, len(rows)) for x in (posterior.first, posterior.last))
    bounded = start.value is not None and end.value is not None
    return CeilingTrajectory(
        beat=beat,
        weeks=weeks,
        start=start,
        end=end,
        per_week=_per_week(posterior, len(rows)) if bounded else percent,
        direction=_direction(posterior) if bounded else "can't tell",
        repetitions=len(rows),
        days=days,
        band=tuple(_band(posterior)) if bounded else (),
        wish=None if wish is None else _wished(posterior, wish.bpm, end),
        now=now,
    )


def _at(posterior: CeilingPosterior, x: float, n: int) -> Measure:
    """Read the ceiling at a day; nothing where the tempos tried do not bound it."""
    value, ci95 = posterior.at(x)
    return Measure(value, n, "bpm", ci95) if posterior.bounded(ci95) else Measure(None, n, "bpm")


def _per_week(posterior: CeilingPosterior, n: int) -> Measure:
    value, (low, high) = posterior.gain()
    weeks = (posterior.last - posterior.first) / DAYS_A_WEEK
    percent = [100 * math.expm1(each / weeks) for each in (value, low, high)]
    return Measure(percent[0], n, "%", (percent[1], percent[2]))


def _direction(posterior: CeilingPosterior) -> Direction:
    _, (low, high) = posterior.gain()
    return "better" if low > 0 else "worse" if high < 0 else "can't tell"


def _band(posterior: CeilingPosterior) -> Iterator[tuple[float, float, float, float]]:
    """Give the ceiling with its interval over the days seen, for drawing."""
    for i in range(BAND_POINTS):
        x = posterior.first + (posterior.last - posterior.first) * i / (BAND_POINTS - 1)
        value, (low, high) = posterior.at(x)
        yield x, value, low, high


def _weeks(takes: Sequence[PastTake], beat: Fraction) -> Iterator[WeekCeiling]:
    """Find the ceiling of each week's repetitions alone."""
    weeks: dict[int, list[PastTake]] = {}
    for take in takes:
        weeks.setdefault(int(_x(take, takes) // DAYS_A_WEEK), []).append(take)
    for of_it in weeks.values():
        tried = [
            (each.tempo_bpm * float(take.tempo.beat / beat), each.controlled)
            for take in of_it
            for each in take.tried
        ]
        if tried:
            days = [_x(take, takes) for take in of_it]
            yield _week(sum(days) / len(days), tried)


def _week(x: float, tried: Sequence[tuple[float, bool]]) -> WeekCeiling:
    """Find the ceiling of one week, as ``tempo_ceiling`` does for both hands together."""
    ceiling, at_least, at_most = _ceiling_of(tuple(tried))
    return WeekCeiling(x, ceiling, at_least, at_most, len(tried))


@lru_cache(maxsize=4096)  # a week that is over stays as it was: 26 of them for each student
def _ceiling_of(tried: tuple[tuple[float, bool], ...]) -> tuple[Measure, float | None, float | None]:
    """Return the ceiling of some repetitions, and its bounds where it is not known."""
    tempos, controlled = (np.array(column) for column in zip(*tried, strict=True))
    posterior = posterior_of(tempos, controlled)
    at_least, at_most = posterior.bounds if len(tried) >= FEWEST else (None, None)
    return replace(posterior.ceiling, needs=None), at_least, at_most


def _wished(posterior: CeilingPosterior, tempo_bpm: float, end: Measure) -> WishedTempo:
    """Say when the ceiling may reach a tempo; no further ahead than as long again as what was seen."""
    n = end.n
    horizon = posterior.first + HORIZON * (posterior.last - posterior.first)
    there = posterior.chance_over(tempo_bpm)
    low, middle, high = posterior.days_to(tempo_bpm)
    nothing = Measure(None, n, "days")
    if there >= REACHED:
        return WishedTempo(tempo_bpm, "reached", nothing, None, horizon, there)
    if end.value is None:  # not bounded: what lies ahead would be a guess
        return WishedTempo(tempo_bpm, "can't tell", nothing, None, horizon, there)
    low, middle = max(low, posterior.last), max(middle, posterior.last)  # it is not for sure there yet
    if high <= horizon:
        reached = Measure(middle, n, "days", (low, max(high, posterior.last)))
        return WishedTempo(tempo_bpm, "may be reached", reached, None, horizon, there)
    return WishedTempo(tempo_bpm, "can't tell", nothing, min(low, horizon), horizon, there)
