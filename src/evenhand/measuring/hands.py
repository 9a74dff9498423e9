"""How each hand stands: timing, own intervals, level; and the hands against each other.

Conventions: ms and dB; a hand's figures are over its main hits (no graces, no extras); in exercises with
accents the level figures are of the unaccented. Balance is right minus left.

What the intervals are for (the player's underlying value): what the same player would show in an endless
take of the same exercise against the same clock. With a click that is the asynchrony's mean and spread.
Without one, a mean says only how the hands stand to each other (in ``RLRL`` a left hand 8 ms late reads +4
for the left and -4 for the right), and a spread is that of the deviations, from which the smooth tempo has
taken its part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.heard import Clock
from evenhand.domain.measures import Measure
from evenhand.measuring.estimates import (
    FEWEST,
    Dependence,
    dependence_of,
    difference_measure,
    mean_measure,
    scatter_of,
    spread_measure,
    too_few,
    within,
)
from evenhand.measuring.quantiles import mixed_reach, t_975
from evenhand.measuring.strokes import (
    REPETITIONS_FOR_POSITIONS,
    SAME_WRITTEN,
    Bools,
    Floats,
    Ints,
    Strokes,
    group_means,
    labels,
)
from evenhand.measuring.wander import WINDOW_HITS, Wander, weigh

# An interval's tail is milder than its two blows', but each blow enters two intervals: worked out, a blow's
# excess kurtosis k is k/2 in the intervals and counts as k; less where the timekeeper rules.
INTERVAL_TAILS = 1.7


@dataclass(frozen=True)
class Timed:
    """The hits whose timing is believed, their players' grid, and the window the grid was worked out for."""

    strokes: Strokes
    rows: Ints
    wander: Wander
    window: Ints

    def of(self, hand: Hand) -> Ints:
        """Return this hand's rows among the strokes."""
        return self.rows[self.strokes.by(hand)[self.rows]]

    def seen(self, hand: Hand) -> Ints:
        """Return this hand's places in the window."""
        return np.flatnonzero(self.strokes.by(hand)[self.window])


def timed(strokes: Strokes, clock: Clock | None) -> Timed:
    """Gather the hits whose timing is believed and weigh the grid of players by them."""
    rows = np.flatnonzero(strokes.sure_timing)
    stretch = strokes.stretch[rows]
    wander = _weighed(strokes, rows, clock or "smooth")
    sizes = np.bincount(stretch) if rows.size else np.zeros(1, dtype=np.int64)
    window = rows[stretch == sizes.argmax()][:WINDOW_HITS]
    return Timed(strokes, rows, wander, window)


def _weighed(strokes: Strokes, rows: Ints, clock: Clock) -> Wander:
    """Take out what is structure (each note's mean, where notes were repeated), and weigh the grid."""
    timing, right = strokes.timing_ms[rows], strokes.right[rows].astype(np.float64)
    taken_out = 0
    structure = np.zeros(rows.size)
    if rows.size:
        group = labels(strokes.position[rows])
        n_groups = int(group.max()) + 1
        if rows.size >= REPETITIONS_FOR_POSITIONS * n_groups:
            structure = group_means(timing, group)[group]
            taken_out = n_groups
    if clock == "click":
        return weigh(
            timing - structure, right[:, None], strokes.stretch[rows], clock=clock, taken_out=taken_out
        )
    written = np.nan_to_num(strokes.written[rows])
    design = np.column_stack([right, written])
    series = strokes.time_s[rows] * 1000 - structure
    return weigh(series, design, strokes.stretch[rows], clock=clock, taken_out=taken_out)


def hand_dependence(take: Timed, hand: Hand) -> Dependence | None:
    """Return how this hand's timing hangs together, or None where there is too little to say."""
    rows, seen = take.of(hand), take.seen(hand)
    if seen.size < 2 or rows.size < FEWEST:
        return None
    wander = take.wander
    parts = wander.judged[:, seen[:, None], seen[None, :]]
    scatter = scatter_of(take.strokes.timing_ms[rows], take.strokes.position[rows])
    strata = take.strokes.position[take.window[seen]]
    return dependence_of(wander, parts, strata, wander.settled, scatter)


def timing_spread(take: Timed, hand: Hand, depends: Dependence | None) -> Measure:
    """Return the n-1 spread of a hand's timing, ms."""
    rows = take.of(hand)
    return spread_measure(take.strokes.timing_ms[rows], take.strokes.position[rows], "ms", depends)


def timing_mean(take: Timed, hand: Hand, depends: Dependence | None, balance: Measure) -> Measure:
    """Return the mean of a hand's timing, ms.

    Against the smooth tempo both hands' deviations add up to nearly nothing, so a hand's mean is the balance
    times the other hand's share of the hits, and is as uncertain as that.
    """
    rows = take.of(hand)
    values, strata = take.strokes.timing_ms[rows], take.strokes.position[rows]
    if take.wander.clock == "click" or balance.ci95 is None or values.size < FEWEST:
        return mean_measure(values, strata, "ms", depends)
    shared = (balance.ci95[1] - balance.ci95[0]) / 2 * (1 - rows.size / take.rows.size)
    reach = math.hypot(shared, t_975(values.size - 1) * _common_error(take, depends, values))
    return within(float(values.mean()), reach, rows.size, "ms")


def _common_error(take: Timed, depends: Dependence | None, values: Floats) -> float:
    """Return the standard error of both hands' mean deviation, ms: the smooth tempo's ends leave a little."""
    if depends is None:
        return 0.0
    share = 1 / take.rows.size
    whole = take.wander.mix @ take.wander.judged.sum(axis=(1, 2)) / depends.within
    return float(values.std(ddof=1)) * share * math.sqrt(depends.average(np.maximum(whole, 0.0)))


def balance_timing(take: Timed, depends: dict[Hand, Dependence | None]) -> Measure:
    """Return right minus left of timing, ms; the timekeeper common to both hands is allowed for."""
    rows = take.of("R"), take.of("L")
    right, left = depends["R"], depends["L"]
    if right is None or left is None:
        return too_few(min(rows[0].size, rows[1].size), "ms")
    r, l = (scatter_of(take.strokes.timing_ms[row], take.strokes.position[row]) for row in rows)
    seen_r, seen_l = take.seen("R"), take.seen("L")
    cross_parts = take.wander.judged[:, seen_r[:, None], seen_l[None, :]].sum(axis=(1, 2))
    share = take.window.size / (r.n + l.n)
    cross = take.wander.mix @ cross_parts / (seen_r.size * seen_l.size) * share
    v_r, v_l = r.within * right.mean / right.within, l.within * left.mean / left.within
    c = math.sqrt(r.within * l.within) * cross / np.sqrt(right.within * left.within)
    variance = np.maximum(v_r + v_l - 2 * c, 1e-12)
    rel = ((v_r - c) ** 2 * right.within_rel + (v_l - c) ** 2 * left.within_rel) / variance**2
    reach = mixed_reach(np.sqrt(variance), 2 / np.maximum(rel, 1e-9), right.weight)
    return within(r.mean - l.mean, reach, r.n + l.n, "ms")


def own_interval_spread(take: Timed, exercise: Exercise, hand: Hand) -> Measure:
    """Return the n-1 spread of the intervals between successive hits of one hand, ms.

    Where the exercise writes all of this hand's own intervals alike (``RLRL``), they are the plain ones.
    Where it does not (``RLRR``), each is taken less its written length at the local tempo, so that what is
    written does not count as spread. No interval reaches over a stop or over a missed note of the hand.
    """
    strokes, rows = take.strokes, take.of(hand)
    after = _own_gaps(exercise, hand)
    pairs = _own_pairs(strokes, rows, after)
    alike = len({round(gap, 6) for gap in after.values()}) == 1
    series = strokes.time_s * 1000 if alike else strokes.timing_ms
    values = series[pairs[:, 1]] - series[pairs[:, 0]]
    strata = strokes.position[pairs[:, 0]]
    seen = _own_pairs(strokes, take.window[take.seen(hand)], after)
    if seen.shape[0] < 2 or values.size < FEWEST:
        return spread_measure(values, strata, "ms")
    of_hits = take.wander.raw if alike else take.wander.judged
    one, two = np.searchsorted(take.window, seen.T)
    rows_apart = of_hits[:, two] - of_hits[:, one]
    parts = rows_apart[:, :, two] - rows_apart[:, :, one]
    settled = np.trace(parts, axis1=1, axis2=2) / seen.shape[0]
    depends = dependence_of(
        take.wander, parts, strokes.position[seen[:, 0]], settled, scatter_of(values, strata)
    )
    return spread_measure(values, strata, "ms", depends, shared_tails=INTERVAL_TAILS)


def _own_gaps(exercise: Exercise, hand: Hand) -> dict[int, float]:
    """Return for each position of a hand how far on its next hit is written, in whole notes."""
    own = [p for p in exercise.struck if exercise.notes[p].hand == hand]
    starts = [float(exercise.starts[p]) for p in own]
    if not own:
        return {}
    nexts = [*starts[1:], starts[0] + float(exercise.length)]
    return {p: nxt - at for p, at, nxt in zip(own, starts, nexts, strict=True)}


def _own_pairs(strokes: Strokes, rows: Ints, gaps: dict[int, float]) -> Ints:
    """Return rows of successive hits of one hand with nothing missed between, shape (n_pairs, 2)."""
    first, second = rows[:-1], rows[1:]
    if rows.size < 2:
        return np.zeros((0, 2), dtype=np.int64)
    written = strokes.written[second] - strokes.written[first]
    due = np.array([gaps.get(int(p), np.nan) for p in strokes.position[first]])
    unbroken: Bools = strokes.stretch[first] == strokes.stretch[second]
    next_to = unbroken & (np.abs(written - due) < SAME_WRITTEN)
    return np.column_stack([first[next_to], second[next_to]])


def tap_rows(strokes: Strokes, exercise: Exercise, hand: Hand) -> Ints:
    """Return the rows of a hand whose levels are judged: all, or the unaccented in exercises with accents."""
    chosen = strokes.sure_level & strokes.by(hand)
    return np.flatnonzero(chosen & ~strokes.accent if exercise.has_accents else chosen)


def level_measures(strokes: Strokes, exercise: Exercise, hand: Hand) -> tuple[Measure, Measure]:
    """Return mean and spread of a hand's level, dB."""
    rows = tap_rows(strokes, exercise, hand)
    values, strata = strokes.level_db[rows], strokes.position[rows]
    return mean_measure(values, strata, "dB"), spread_measure(values, strata, "dB")


def balance_level(strokes: Strokes, exercise: Exercise) -> Measure:
    """Return right minus left of level, dB."""
    r, l = tap_rows(strokes, exercise, "R"), tap_rows(strokes, exercise, "L")
    return difference_measure(
        strokes.level_db[r], strokes.level_db[l], (strokes.position[r], strokes.position[l]), "dB"
    )


def accents_over_taps(strokes: Strokes, hand: Hand) -> Measure:
    """Return accents minus taps of a hand, dB."""
    own = strokes.sure_level & strokes.by(hand)
    high, low = np.flatnonzero(own & strokes.accent), np.flatnonzero(own & ~strokes.accent)
    return difference_measure(
        strokes.level_db[high], strokes.level_db[low], (strokes.position[high], strokes.position[low]), "dB"
    )
