"""How each hand stands: timing, own intervals, level; the hands against each other; tempo and its drift.

What the intervals are for (the player's underlying value): what the same player would show in an endless
take of the same exercise against the same clock. With a click that is the asynchrony's mean and spread.
Without one, a mean says only how the hands stand to each other (in ``RLRL`` a left hand 8 ms late reads +4
for the left and -4 for the right), and a spread is that of the deviations, from which the smooth tempo has
taken its part. Tempo and drift are a straight line and the bend of a parabola of time over written time.

Conventions: ms and dB; a hand's figures are over its main hits (no graces, no extras), its levels over the
unaccented ones. Balance is right minus left. Tempo in beats a minute, drift in beats a minute per minute.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Bools, Floats, Ints
from evenhand.measuring.estimates import (
    FEWEST,
    Dependence,
    Scatter,
    dependence_of,
    difference_of,
    mean_of,
    mixed_reach,
    scatter_of,
    spread_of,
    t_975,
    too_few,
    within,
)
from evenhand.measuring.hits import REPETITIONS_FOR_POSITIONS, SAME_WRITTEN, MainHits, group_means
from evenhand.measuring.serial_dependence import MEMORIES, WINDOW_HITS, SerialDependence, weigh_players
from evenhand.measuring.values import Measure
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo
from evenhand.take import Clock

# An interval's tail is milder than its two blows', but each blow enters two intervals: worked out, a blow's
# excess kurtosis k is k/2 in the intervals and counts as k; less where the timekeeper rules.
INTERVAL_TAILS = 1.7


@dataclass(frozen=True)
class OneHand:
    """One hand's believed timing: rows among the strokes, places in the window, and all summed up."""

    rows: Ints
    seen: Ints
    scatter: Scatter
    depends: Dependence | None


@dataclass(frozen=True)
class TakeTiming:
    """The hits whose timing is believed, their players' grid, and the window the grid was worked out for."""

    hits: MainHits
    rows: Ints
    serial: SerialDependence
    window: Ints
    hands: Mapping[Hand, OneHand]


BOTH_HANDS = 0.5  # between left (0) and right (1)


def timed(hits: MainHits, clock: Clock | None) -> TakeTiming:
    """Gather the hits whose timing is believed, and weigh the grid of players by them."""
    rows = np.flatnonzero(hits.sure_timing)
    stretch = hits.stretch[rows]
    serial = _serial_of(hits, rows, clock or "smooth")
    sizes = np.bincount(stretch) if rows.size else np.zeros(1, dtype=np.int64)
    window = rows[stretch == sizes.argmax()][:WINDOW_HITS]
    hands = {hand: _one_hand(hits, rows, window, serial, hand) for hand in HANDS}
    return TakeTiming(hits, rows, serial, window, hands)


def _one_hand(hits: MainHits, rows: Ints, window: Ints, serial: SerialDependence, hand: Hand) -> OneHand:
    """Sum up a hand's timing, and work out how it hangs together where there is enough to say."""
    own = hits.by(hand)
    of_hand, seen = rows[own[rows]], np.flatnonzero(own[window])
    scatter = scatter_of(hits.timing_ms[of_hand], hits.position[of_hand], hits.time_se_ms[of_hand])
    if seen.size < 2 or scatter.n < FEWEST:
        return OneHand(of_hand, seen, scatter, None)
    parts = serial.judged[:, seen[:, None], seen[None, :]]
    strata = hits.position[window[seen]]
    return OneHand(of_hand, seen, scatter, dependence_of(serial, parts, strata, serial.settled, scatter))


def _serial_of(hits: MainHits, rows: Ints, clock: Clock) -> SerialDependence:
    """Take out what is structure (each note's mean, where notes were repeated), and weigh the grid."""
    timing, right = hits.timing_ms[rows], np.where(hits.alone, hits.right, BOTH_HANDS)[rows]
    taken_out = 0
    structure = np.zeros(rows.size)
    if rows.size:
        group = hits.position[rows]
        n_groups = int(np.count_nonzero(np.bincount(group)))
        if rows.size >= REPETITIONS_FOR_POSITIONS * n_groups:
            structure = group_means(timing, group)[group]
            taken_out = n_groups
    if clock == "click":
        return weigh_players(
            timing - structure, right[:, None], hits.stretch[rows], clock=clock, taken_out=taken_out
        )
    written = np.nan_to_num(hits.written[rows])
    design = np.column_stack([right, written])
    series = hits.time_s[rows] * 1000 - structure
    return weigh_players(series, design, hits.stretch[rows], clock=clock, taken_out=taken_out)


def timing_spread(take: TakeTiming, hand: Hand) -> Measure:
    """Return the n-1 spread of a hand's timing, ms."""
    own = take.hands[hand]
    return spread_of(own.scatter, "ms", own.depends)


def timing_mean(take: TakeTiming, hand: Hand, balance: Measure) -> Measure:
    """Return the mean of a hand's timing, ms.

    Against the smooth tempo both hands' deviations add up to nearly nothing, so a hand's mean is the balance
    times the other hand's share of the hits, and is as uncertain as that.
    """
    own = take.hands[hand]
    n = own.scatter.n
    if take.serial.clock == "click" or balance.ci95 is None or own.depends is None:
        return mean_of(own.scatter, "ms", own.depends)
    shared = (balance.ci95[1] - balance.ci95[0]) / 2 * (1 - n / take.rows.size)
    reach = math.hypot(shared, t_975(n - 1) * _common_error(take, own.scatter, own.depends))
    return within(own.scatter.mean, reach, n, "ms")


def _common_error(take: TakeTiming, scatter: Scatter, depends: Dependence) -> float:
    """Return the standard error of both hands' mean deviation, ms: the smooth tempo's ends leave a little."""
    whole = take.serial.mix @ take.serial.judged.sum(axis=(1, 2)) / depends.within
    return math.sqrt(scatter.total * depends.average(np.maximum(whole, 0.0))) / take.rows.size


def balance_timing(take: TakeTiming) -> Measure:
    """Return right minus left of timing, ms; the timekeeper common to both hands is allowed for."""
    right, left = take.hands["R"], take.hands["L"]
    r, l, of_r, of_l = right.scatter, left.scatter, right.depends, left.depends
    if of_r is None or of_l is None:
        return too_few(min(r.n, l.n), "ms")
    cross_parts = take.serial.judged[:, right.seen[:, None], left.seen[None, :]].sum(axis=(1, 2))
    share = take.window.size / (r.n + l.n)
    cross = take.serial.mix @ cross_parts / (right.seen.size * left.seen.size) * share
    v_r, v_l = (s.within * s.blur * d.mean / d.within for s, d in ((r, of_r), (l, of_l)))
    c = math.sqrt(r.within * l.within) * cross / np.sqrt(of_r.within * of_l.within)
    variance = np.maximum(v_r + v_l - 2 * c, 1e-12)
    rel = ((v_r - c) ** 2 * of_r.within_rel + (v_l - c) ** 2 * of_l.within_rel) / variance**2
    reach = mixed_reach(np.sqrt(variance), 2 / np.maximum(rel, 1e-9), of_r.weight)
    return within(r.mean - l.mean, reach, r.n + l.n, "ms")


def own_interval_spread(take: TakeTiming, exercise: Exercise, hand: Hand) -> Measure:
    """Return the n-1 spread of the intervals between successive hits of one hand, ms.

    Where the exercise writes all of this hand's own intervals alike (``RLRL``), they are the plain ones.
    Where it does not (``RLRR``), each is taken less its written length at the local tempo, so that what is
    written does not count as spread. No interval reaches over a stop or over a missed note of the hand.
    """
    hits, rows = take.hits, take.hands[hand].rows
    after = _own_gaps(exercise, hand)
    pairs = _own_pairs(hits, rows, after)
    alike = len({round(gap, 6) for gap in after.values()}) == 1
    series = hits.time_s * 1000 if alike else hits.timing_ms
    values = series[pairs[:, 1]] - series[pairs[:, 0]]
    errors = np.hypot(*hits.time_se_ms[pairs.T])
    scatter = scatter_of(values, hits.position[pairs[:, 0]], errors)
    seen = _own_pairs(hits, take.window[take.hands[hand].seen], after)
    if seen.shape[0] < 2 or scatter.n < FEWEST:
        return spread_of(scatter, "ms")
    of_hits = take.serial.raw if alike else take.serial.judged
    one, two = np.searchsorted(take.window, seen.T)
    apart = of_hits[:, two] - of_hits[:, one]
    parts = apart[:, :, two] - apart[:, :, one]
    settled = np.trace(parts, axis1=1, axis2=2) / seen.shape[0]
    depends = dependence_of(take.serial, parts, hits.position[seen[:, 0]], settled, scatter)
    return spread_of(scatter, "ms", depends, shared_tails=INTERVAL_TAILS)


def _own_gaps(exercise: Exercise, hand: Hand) -> dict[int, float]:
    """Return for each position of a hand how far on its next hit is written, in whole notes."""
    own = [p for p in exercise.struck if exercise.notes[p].hand == hand]
    starts = [float(exercise.starts[p]) for p in own]
    if not own:
        return {}
    nexts = [*starts[1:], starts[0] + float(exercise.length)]
    return {p: nxt - at for p, at, nxt in zip(own, starts, nexts, strict=True)}


def _own_pairs(hits: MainHits, rows: Ints, gaps: dict[int, float]) -> Ints:
    """Return rows of successive hits of one hand with nothing missed between, shape (n_pairs, 2)."""
    first, second = rows[:-1], rows[1:]
    if rows.size < 2:
        return np.zeros((0, 2), dtype=np.int64)
    written = hits.written[second] - hits.written[first]
    due = np.array([gaps.get(int(p), np.nan) for p in hits.position[first]])
    unbroken: Bools = hits.stretch[first] == hits.stretch[second]
    next_to = unbroken & (np.abs(written - due) < SAME_WRITTEN)
    return np.column_stack([first[next_to], second[next_to]])


def tap_rows(hits: MainHits, hand: Hand) -> Ints:
    """Return the rows, shape (n,), of a hand whose levels are judged.

    They are those that are meant equally loud; all of its hits where every note is accented alike.
    """
    chosen = hits.sure_level & hits.by(hand)
    return np.flatnonzero(chosen & hits.plain)


def level_scatter(hits: MainHits, hand: Hand) -> Scatter:
    """Sum up the levels of a hand that are judged, dB."""
    rows = tap_rows(hits, hand)
    return scatter_of(hits.level_db[rows], hits.position[rows])


def accents_over_taps(hits: MainHits, hand: Hand) -> Measure:
    """Return accents minus taps of a hand, dB."""
    own = hits.sure_level & hits.by(hand)
    rows = np.flatnonzero(own & hits.accent), np.flatnonzero(own & hits.plain)
    high, low = (scatter_of(hits.level_db[row], hits.position[row]) for row in rows)
    return difference_of(high, low, "dB")


FEWEST_HITS = {"tempo": 3, "drift": 6}
SECONDS_A_MINUTE = 60.0


def pace(take: TakeTiming, tempo: Tempo) -> tuple[Measure, Measure]:
    """Return tempo (bpm) and drift (bpm per minute), in the beat of the tempo given."""
    units = "bpm", "bpm/min"
    rows = take.rows[np.isfinite(take.hits.written[take.rows])]
    written, stretch = take.hits.written[rows], take.hits.stretch[rows]
    n = rows.size
    nothing = too_few(n, units[0], FEWEST_HITS["tempo"]), too_few(n, units[1], FEWEST_HITS["drift"])
    if n < FEWEST_HITS["tempo"] or np.ptp(written) <= 0:
        return nothing
    group = np.unique(stretch, return_inverse=True)[1].astype(np.int64)
    line = _about_means(written, group)
    if not line.any():
        return nothing
    time_s = take.hits.time_s[rows]
    beat = float(tempo.beat)
    slope_by = line / (line @ line)
    slope = float(slope_by @ time_s)
    if slope <= 0:
        return nothing
    bpm = SECONDS_A_MINUTE / (slope * beat)
    reach = reach_s(take.serial, slope_by) / slope  # as a share
    tempo_measure = Measure(bpm, n, units[0], (bpm / (1 + reach), bpm / max(1 - reach, 0.1)))
    bend = _about_means(line**2, group)
    bend = bend - line * (line @ bend) / (line @ line)
    size = float(bend @ bend)
    if n < FEWEST_HITS["drift"] or size <= 1e-9 * float((line**2) @ (line**2)):
        return tempo_measure, nothing[1]
    per_bend = -2 * SECONDS_A_MINUTE**2 / (beat * slope**3)
    drift = per_bend * float(bend @ time_s) / size
    reach = reach_s(take.serial, bend / size) * abs(per_bend)
    return tempo_measure, Measure(drift, n, units[1], (drift - reach, drift + reach))


def _about_means(values: Floats, group: Ints) -> Floats:
    """Return values less their stretch's mean."""
    return np.asarray(values - group_means(values, group)[group])


def reach_s(serial: SerialDependence, by: Floats) -> float:
    """Return how far to either side the sum of ``by`` times hit times (s) is uncertain, at 95 %.

    Parameters
    ----------
    serial
        The weighed grid of players.
    by
        What each hit time is multiplied by, shape (n,), summing to 0 over every stretch.
    """
    n = by.size
    spectrum = np.fft.rfft(by, 2 * n)
    lagged = np.fft.irfft(np.abs(spectrum) ** 2)[:n]  # autocorrelation of the weights
    apart = np.arange(n)
    parts = [lagged[0], *(2 * lagged @ memory**apart - lagged[0] for memory in MEMORIES)]
    if serial.clock == "smooth":
        parts.append(float((np.cumsum(by) ** 2).sum()))
    variances = np.maximum(serial.scale * (serial.mix @ np.array(parts)) * 1e-6, 0.0)
    return mixed_reach(np.sqrt(variances), np.full(variances.size, max(n - 4.0, 1.0)), serial.weight)
