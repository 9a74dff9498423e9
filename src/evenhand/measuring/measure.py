"""From what was heard to figures: the main path of this room.

Conventions: ms, dB, bpm; right minus left; negative = early or weaker. See ``hands`` for what the intervals
are for.
"""

from __future__ import annotations

from itertools import pairwise
from statistics import median

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.heard import Heard
from evenhand.domain.measures import HandMeasures, Measure, Measures
from evenhand.domain.tempo import Tempo
from evenhand.measuring.doubles import doubles
from evenhand.measuring.estimates import difference_of, mean_of, spread_of
from evenhand.measuring.fatigue import level_trend, spread_trend
from evenhand.measuring.graces import graces
from evenhand.measuring.hands import (
    HANDS,
    Timed,
    accents_over_taps,
    balance_timing,
    level_scatter,
    own_interval_spread,
    timed,
    timing_mean,
    timing_spread,
)
from evenhand.measuring.pace import pace
from evenhand.measuring.positions import positions
from evenhand.measuring.strokes import strokes_of
from evenhand.measuring.timekeeper import two_hand_split


def measure(heard: Heard, exercise: Exercise, tempo: Tempo) -> Measures:
    """Measure a take.

    Parameters
    ----------
    heard
        The take's hits, matched to the exercise's notes.
    exercise
        What is written.
    tempo
        The tempo given; its beat is the one the tempo measure is in.

    Returns
    -------
    Measures
        Every figure with its interval and count; a figure is None where there were too few hits for it.
    """
    strokes = strokes_of(heard, exercise)
    take = timed(strokes, heard.clock)
    timekeeper, delays = two_hand_split(take, exercise)
    bpm, drift = pace(take, tempo)
    balance = balance_timing(take)
    levels = {hand: level_scatter(strokes, exercise, hand) for hand in HANDS}
    hands: dict[Hand, HandMeasures] = {}
    for hand in HANDS:
        hands[hand] = HandMeasures(
            timing_mean_ms=timing_mean(take, hand, balance),
            timing_sd_ms=timing_spread(take, hand),
            interval_sd_ms=own_interval_spread(take, exercise, hand),
            level_mean_db=mean_of(levels[hand], "dB"),
            level_sd_db=spread_of(levels[hand], "dB"),
            hand_sd_ms=delays.get(hand),
        )
    accented = {n.hand for n in exercise.notes if n.accent}
    return Measures(
        tempo_bpm=bpm,
        drift_bpm_per_min=drift,
        hands=hands,
        balance_level_db=difference_of(levels["R"], levels["L"], "dB"),
        balance_timing_ms=balance,
        doubles=doubles(strokes, exercise),
        accents_over_taps_db={hand: accents_over_taps(strokes, hand) for hand in HANDS if hand in accented},
        graces=graces(heard, exercise),
        spread_trend_ms_per_min=spread_trend(strokes),
        level_trend_db_per_min=level_trend(strokes, exercise),
        timekeeper_sd_ms=timekeeper,
        positions=positions(heard, strokes, exercise),
        interval_ms=typical_interval_ms(take, exercise, bpm, tempo),
    )


def typical_interval_ms(take: Timed, exercise: Exercise, bpm: Measure, tempo: Tempo) -> float | None:
    """Return the median time between neighbouring notes at the tempo played, or given where none is known."""
    struck = exercise.struck
    if not struck or not take.strokes.n:
        return None
    starts = [float(exercise.starts[p]) for p in struck]
    steps = [b - a for a, b in pairwise([*starts, starts[0] + float(exercise.length)])]
    played = bpm.value or tempo.bpm
    return median(steps) * 60_000.0 / (played * float(tempo.beat))
