"""Neighbouring notes: doubles, and the split of intervals into a timekeeper's share and the hands'.

Every interval between neighbouring hits is I = C + M(next) - M(this): a timekeeper's interval and two delays
of the hands (Wing & Kristofferson 1973). Neighbouring intervals share one delay with opposite signs, so

    cov(interval into a hit, interval out of it) = -var(delay of the hand that played it)

whatever the sticking. A lasting difference between the hands looks the same and is none of it, so every
written note's intervals are taken about their own mean first. The model is for free playing: against a click
the player corrects, and the split is not reported.

Conventions: ms, ms squared, dB (second minus first: negative = the second is weaker); the short share is
(first to second hit) / (first hit to the other hand's first hit), 0.5 is even.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Bools, Floats, Ints
from evenhand.measuring.estimates import mean_of, scatter_of, t_975
from evenhand.measuring.hands import TakeTiming
from evenhand.measuring.hits import SAME_WRITTEN, MainHits, group_means
from evenhand.measuring.values import DoubleMeasures, Measure
from evenhand.music.exercise import Exercise, Hand


def double_starts(exercise: Exercise) -> dict[Hand, tuple[int, ...]]:
    """Return the positions where a double begins, by hand, the exercise taken round and round.

    A double is a run of exactly two notes of equal written value by one hand, with no rest before its third
    hit (the other hand's first). A run of three or more is none.

    >>> from fractions import Fraction
    >>> from evenhand.music.exercise import Note
    >>> double_starts(Exercise(tuple(Note(h, Fraction(1, 16)) for h in "RLRR")))
    {}
    >>> double_starts(Exercise(tuple(Note(h, Fraction(1, 16)) for h in "RRLL")))
    {'R': (0,), 'L': (2,)}
    """
    notes, n = exercise.notes, len(exercise.notes)
    found: dict[Hand, tuple[int, ...]] = {}
    if n < 3:
        return found
    for p, note in enumerate(notes):
        before, second, third = notes[p - 1], notes[(p + 1) % n], notes[(p + 2) % n]
        hand = note.one_hand
        if hand is None or before.one_hand == hand:
            continue
        if second.one_hand == hand and third.one_hand not in {None, hand} and second.value == note.value:
            found[hand] = (*found.get(hand, ()), p)
    return found


def doubles(hits: MainHits, exercise: Exercise) -> dict[Hand, DoubleMeasures]:
    """Measure the doubles of each hand that has any written.

    Only doubles count whose three hits were all heard in one unbroken stretch.
    """
    starts = double_starts(exercise)
    if not starts:
        return {}
    triples = _triples(hits, exercise)
    return {hand: _of_hand(hits, triples, np.array(at)) for hand, at in starts.items()}


def _triples(hits: MainHits, exercise: Exercise) -> Ints:
    """Return the first rows of three hits in a row that are three written notes in a row."""
    if hits.n < 3:
        return np.zeros(0, dtype=np.int64)
    n = len(exercise.notes)
    values = np.array([float(note.value) for note in exercise.notes])
    p = hits.position
    follows = (p[1:] == (p[:-1] + 1) % n) & (hits.stretch[1:] == hits.stretch[:-1])
    follows &= np.abs(np.diff(hits.written) - values[p[:-1]]) < SAME_WRITTEN
    return np.flatnonzero(follows[:-1] & follows[1:])


def _of_hand(hits: MainHits, triples: Ints, at: Ints) -> DoubleMeasures:
    """Measure the doubles that begin at some positions."""
    first = triples[np.isin(hits.position[triples], at)]
    loud = first[hits.sure_level[first] & hits.sure_level[first + 1]]
    weaker = hits.level_db[loud + 1] - hits.level_db[loud]
    timed = first[hits.sure_timing[first] & hits.sure_timing[first + 1] & hits.sure_timing[first + 2]]
    t = hits.time_s
    timed = timed[t[timed + 2] > t[timed]]
    whole = t[timed + 2] - t[timed]
    share = (t[timed + 1] - t[timed]) / whole
    se_s = hits.time_se_ms / 1000
    error = (
        np.sqrt((share * se_s[timed + 2]) ** 2 + se_s[timed + 1] ** 2 + ((1 - share) * se_s[timed]) ** 2)
        / whole
    )
    return DoubleMeasures(
        second_minus_first_db=mean_of(scatter_of(weaker, hits.position[loud]), "dB"),
        short_share=mean_of(scatter_of(share, hits.position[timed], error), "share"),
    )


FEWEST_HITS = 40  # a hand: fewer leave the split to chance
FEWEST_REPETITIONS = 6  # each note's own mean must be known well
BLOCKS = 10  # for the doubt: neighbours hang together, blocks of them hardly


@dataclass(frozen=True)
class _Products:
    """Of each hit with a neighbour on either side, in order of time, shape (n,), ms squared.

    ``shared`` is minus the product of the intervals into and out of it, ``square`` the square of the one out.
    """

    right: Bools
    next_right: Bools
    shared: Floats
    square: Floats

    def delay(self, right: bool) -> float:  # noqa: FBT001 - a hand, not a switch
        """Return the variance of one hand's delays."""
        return float(self.shared[self.right == right].mean())


def two_hand_split(take: TakeTiming, exercise: Exercise) -> tuple[Measure | None, dict[Hand, Measure]]:
    """Split a freely played take's timing into timekeeper and hands, as standard deviations in ms.

    Returns
    -------
    tuple
        The timekeeper's, and each hand's; None and empty unless the take was played without a click, in
        even note values, often enough, and all three variances come out positive.
    """
    values = {exercise.notes[p].value for p in exercise.struck}
    one_by_one = all(exercise.notes[p].one_hand for p in exercise.struck)
    if take.serial.clock == "click" or len(values) != 1 or not one_by_one:
        return None, {}
    found = _products(take, len(exercise.struck), float(next(iter(values))))
    if found is None:
        return None, {}
    right, left = found.delay(right=True), found.delay(right=False)
    delays = np.where(found.right, right, left) + np.where(found.next_right, right, left)
    keeper = found.square - delays
    if min(right, left, float(keeper.mean())) <= 0:
        return None, {}
    each = {"R": found.shared[found.right], "L": found.shared[~found.right]}
    own_doubt = found.square - 2 * found.shared  # what the timekeeper's variance rests on, hit by hit
    hands: dict[Hand, Measure] = {"R": _deviation(right, each["R"]), "L": _deviation(left, each["L"])}
    return _deviation(float(keeper.mean()), own_doubt), hands


def _products(take: TakeTiming, n_notes: int, step: float) -> _Products | None:
    """Return products of neighbouring intervals about their notes' means, or None where they are too few."""
    hits, rows = take.hits, take.rows
    if rows.size < 3:
        return None
    near = np.abs(np.diff(hits.written[rows]) - step) < SAME_WRITTEN
    near &= np.diff(hits.stretch[rows]) == 0
    middle = np.flatnonzero(near[:-1] & near[1:]) + 1
    right = hits.right[rows]
    repetitions = middle.size / n_notes
    fewest = min(int(right[middle].sum()), int((~right[middle]).sum()))
    if fewest < FEWEST_HITS or repetitions < FEWEST_REPETITIONS:
        return None
    intervals = np.diff(hits.time_s[rows]) * 1000
    note = hits.position[rows][middle]
    into, out = _about(intervals[middle - 1], note), _about(intervals[middle], note)
    undo = repetitions / (repetitions - 1)  # each note's own mean took this share of the variance with it
    return _Products(right[middle], right[middle + 1], -into * out * undo, out**2 * undo)


def _about(intervals: Floats, note: Ints) -> Floats:
    """Return intervals about their note's mean and about an even change of tempo."""
    rest = intervals - group_means(intervals, note)[note]
    line = np.linspace(-1.0, 1.0, rest.size)
    return np.asarray(rest - line * (line @ rest) / (line @ line))


def _deviation(variance: float, terms: Floats) -> Measure:
    """Return the root of a variance as a measure; doubt from means over blocks of its terms."""
    blocks = np.array([block.mean() for block in np.array_split(terms, BLOCKS)])
    reach = t_975(BLOCKS - 1) * float(blocks.std(ddof=1)) / math.sqrt(BLOCKS)
    low, high = max(variance - reach, 0.0), variance + reach
    return Measure(math.sqrt(variance), terms.size, "ms", (math.sqrt(low), math.sqrt(high)))
