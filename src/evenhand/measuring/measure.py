"""From what was heard to figures: the main path of this room, and the figures of notes, graces and trends.

Conventions: ms, dB, bpm; right minus left; negative = early or weaker; one row a struck note, in written
order. A grace note's gap is from it to its main note, positive (of a drag, the first of its two); its level
is less its main note's (of a drag, the mean of both); both go by the hand of the main note. Trends are a
minute of playing time, positive = grows. See ``hands`` for what the intervals are for.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from evenhand.arrays import Bools, Floats, Ints
from evenhand.measuring.estimates import (
    FEWEST,
    around,
    difference_of,
    mean_of,
    scatter_of,
    spread_of,
    too_few,
)
from evenhand.measuring.hands import (
    accents_over_taps,
    balance_timing,
    level_scatter,
    own_interval_spread,
    pace,
    tap_rows,
    timed,
    timing_mean,
    timing_spread,
)
from evenhand.measuring.hits import MainHits, group_means, main_hits
from evenhand.measuring.pairs import doubles, two_hand_split
from evenhand.measuring.values import (
    GraceMeasures,
    HandMeasures,
    Measure,
    Measures,
    PositionMeasures,
    typical_interval_ms,
)
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo
from evenhand.take import Heard, Hit


def positions(heard: Heard, hits: MainHits, exercise: Exercise) -> tuple[PositionMeasures, ...]:
    """Measure each struck note: timing, level, and how often it was missed."""
    missed = Counter(miss.position for miss in heard.missed if not miss.grace)
    timing = _by_position(hits.timing_ms, hits.sure_timing, hits, exercise, "ms")
    level = _by_position(hits.level_db, hits.sure_level, hits, exercise, "dB")
    rows = []
    for p in exercise.struck:
        hand = exercise.notes[p].hand
        if hand is not None:
            rows.append(PositionMeasures(p, hand, timing[p], level[p], missed[p]))
    return tuple(rows)


def _by_position(
    values: Floats, believed: Bools, hits: MainHits, exercise: Exercise, unit: str
) -> list[Measure]:
    """Return the mean of the believed values of every position, rests included."""
    at, kept = hits.position[believed], values[believed]
    size = len(exercise.notes)
    counts = np.bincount(at, minlength=size)
    means = np.bincount(at, weights=kept, minlength=size) / np.maximum(counts, 1)
    squares = np.bincount(at, weights=(kept - means[at]) ** 2, minlength=size)
    return [
        around(m, math.sqrt(s / (n - 1) / n), n - 1, n, unit) if n >= FEWEST else too_few(n, unit)
        for m, s, n in zip(means.tolist(), squares.tolist(), counts.tolist(), strict=True)
    ]


SURE_ENOUGH = 0.2  # confidence below which an ornament is left out


def graces(heard: Heard, exercise: Exercise) -> dict[Hand, GraceMeasures]:
    """Measure the ornaments of each hand that has any written; only those heard whole count."""
    wanted = {p: len(note.graces) for p, note in enumerate(exercise.notes) if note.graces}
    if not wanted:
        return {}
    ornaments = _ornaments(heard, wanted)
    out: dict[Hand, GraceMeasures] = {}
    for hand in HANDS:
        whose = {p: exercise.notes[p].one_hand for p in wanted}
        own = [(main, ahead) for main, ahead in ornaments if whose[main.position or 0] == hand]
        if hand in whose.values():
            at = np.array([main.position or 0 for main, _ in own], dtype=np.int64)
            gap = np.array([1000 * (main.time_s - ahead[0].time_s) for main, ahead in own])
            level = np.array(
                [sum(g.level_db for g in ahead) / len(ahead) - main.level_db for main, ahead in own]
            )
            error = np.array([math.hypot(_error_ms(main), _error_ms(ahead[0])) for main, ahead in own])
            out[hand] = GraceMeasures(
                mean_of(scatter_of(gap, at, error), "ms"), mean_of(scatter_of(level, at), "dB")
            )
    return out


def _error_ms(hit: Hit) -> float:
    """Return the standard error of a hit's time; 0 where it was given."""
    return hit.time_se_ms or 0.0


def _ornaments(heard: Heard, wanted: dict[int, int]) -> list[tuple[Hit, list[Hit]]]:
    """Return main notes with all their graces, each in order of time."""
    ahead: dict[tuple[int | None, int | None, int], list[Hit]] = {}
    mains: list[Hit] = []
    for hit in sorted(heard.hits, key=lambda h: h.time_s):
        if hit.position not in wanted or hit.confidence < SURE_ENOUGH:
            continue
        if hit.grace:
            ahead.setdefault((hit.repetition, hit.position, hit.stretch), []).append(hit)
        else:
            mains.append(hit)
    pairs = [(main, ahead.get((main.repetition, main.position, main.stretch), [])) for main in mains]
    return [(m, g) for m, g in pairs if len(g) == wanted[m.position or 0] and g[-1].time_s < m.time_s]


FEWEST_HITS = 24  # fewer say nothing of a trend
MEAN_ABSOLUTE_TO_SD = math.sqrt(math.pi / 2)  # of a normal distribution
SECONDS_A_MINUTE = 60.0


def spread_trend(hits: MainHits) -> Measure:
    """Return how the spread of timing grows, ms a minute.

    The slope of the hits' distances from their own note's mean, scaled to a standard deviation.
    """
    rows = np.flatnonzero(hits.sure_timing)
    unit = "ms/min"
    if rows.size < FEWEST_HITS:
        return too_few(rows.size, unit, FEWEST_HITS)
    group = _notes_or_hands(hits, rows)
    timing = hits.timing_ms[rows]
    away = np.abs(timing - group_means(timing, group)[group]) * MEAN_ABSOLUTE_TO_SD
    return _slope(hits.time_s[rows] / SECONDS_A_MINUTE, away, group, unit)


def level_trend(hits: MainHits) -> Measure:
    """Return how the level of the unaccented notes grows, dB a minute."""
    rows = np.sort(np.concatenate([tap_rows(hits, hand) for hand in HANDS]))
    unit = "dB/min"
    if rows.size < FEWEST_HITS:
        return too_few(rows.size, unit, FEWEST_HITS)
    group = _notes_or_hands(hits, rows)
    return _slope(hits.time_s[rows] / SECONDS_A_MINUTE, hits.level_db[rows], group, unit)


def _notes_or_hands(hits: MainHits, rows: Ints) -> Ints:
    """Group by written note where most were played twice or more, else by hand and accent."""
    position = hits.position[rows]
    if 2 * int(np.count_nonzero(np.bincount(position))) <= rows.size:
        return position
    return np.asarray(hits.right[rows] + 2 * hits.accent[rows], dtype=np.int64)


def _slope(minutes: Floats, values: Floats, group: Ints, unit: str) -> Measure:
    """Return the slope common to all groups; doubt allows for scatter that changes on the way."""
    at = minutes - group_means(minutes, group)[group]
    about = values - group_means(values, group)[group]
    size = float(at @ at)
    n, dof = at.size, at.size - int(np.count_nonzero(np.bincount(group))) - 1
    if size <= 0 or dof < 1:
        return too_few(n, unit, FEWEST_HITS)
    slope = float(at @ about) / size
    rest = about - slope * at
    error = math.sqrt(float((at**2) @ rest**2) * n / dof) / size
    return around(slope, error, dof, n, unit)


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
    hits = main_hits(heard, exercise)
    take = timed(hits, heard.clock)
    timekeeper, delays = two_hand_split(take, exercise)
    bpm, drift = pace(take, tempo)
    balance = balance_timing(take)
    levels = {hand: level_scatter(hits, hand) for hand in HANDS}
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
    accented = {n.one_hand for n in exercise.notes if n.accent}
    played_bpm = bpm.value or tempo.bpm
    return Measures(
        tempo_bpm=bpm,
        drift_bpm_per_min=drift,
        hands=hands,
        balance_level_db=difference_of(levels["R"], levels["L"], "dB"),
        balance_timing_ms=balance,
        doubles=doubles(hits, exercise),
        accents_over_taps_db={hand: accents_over_taps(hits, hand) for hand in HANDS if hand in accented},
        graces=graces(heard, exercise),
        spread_trend_ms_per_min=spread_trend(hits),
        level_trend_db_per_min=level_trend(hits),
        timekeeper_sd_ms=timekeeper,
        positions=positions(heard, hits, exercise),
        interval_ms=typical_interval_ms(exercise, played_bpm, tempo.beat) if take.hits.n else None,
    )
