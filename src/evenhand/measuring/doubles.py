"""Doubles: two notes in a row by one hand, and then the other hand.

Conventions: levels in dB (second minus first: negative = the second is weaker); the short share is
(first to second hit) / (first hit to the other hand's first hit), 0.5 is even.
"""

from __future__ import annotations

import numpy as np

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.measures import DoubleMeasures
from evenhand.measuring.estimates import mean_measure
from evenhand.measuring.strokes import SAME_WRITTEN, Ints, Strokes


def double_starts(exercise: Exercise) -> dict[Hand, tuple[int, ...]]:
    """Return the positions where a double begins, by hand, the exercise taken round and round.

    A double is a run of exactly two notes of equal written value by one hand, with no rest before its third
    hit (the other hand's first). A run of three or more is none.

    >>> from fractions import Fraction
    >>> from evenhand.domain.exercise import Note
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
        if note.hand is None or before.hand == note.hand:
            continue
        if second.hand == note.hand and third.hand not in {None, note.hand} and second.value == note.value:
            found[note.hand] = (*found.get(note.hand, ()), p)
    return found


def doubles(strokes: Strokes, exercise: Exercise) -> dict[Hand, DoubleMeasures]:
    """Measure the doubles of each hand that has any written.

    Only doubles count whose three hits were all heard in one unbroken stretch.
    """
    starts = double_starts(exercise)
    if not starts:
        return {}
    triples = _triples(strokes, exercise)
    return {hand: _of_hand(strokes, triples, np.array(at)) for hand, at in starts.items()}


def _triples(strokes: Strokes, exercise: Exercise) -> Ints:
    """Return the first rows of three hits in a row that are three written notes in a row."""
    if strokes.n < 3:
        return np.zeros(0, dtype=np.int64)
    n = len(exercise.notes)
    values = np.array([float(note.value) for note in exercise.notes])
    p = strokes.position
    follows = (p[1:] == (p[:-1] + 1) % n) & (strokes.stretch[1:] == strokes.stretch[:-1])
    follows &= np.abs(np.diff(strokes.written) - values[p[:-1]]) < SAME_WRITTEN
    return np.flatnonzero(follows[:-1] & follows[1:])


def _of_hand(strokes: Strokes, triples: Ints, at: Ints) -> DoubleMeasures:
    """Measure the doubles that begin at some positions."""
    first = triples[np.isin(strokes.position[triples], at)]
    loud = first[strokes.sure_level[first] & strokes.sure_level[first + 1]]
    weaker = strokes.level_db[loud + 1] - strokes.level_db[loud]
    timed = first[
        strokes.sure_timing[first] & strokes.sure_timing[first + 1] & strokes.sure_timing[first + 2]
    ]
    t = strokes.time_s
    timed = timed[t[timed + 2] > t[timed]]
    share = (t[timed + 1] - t[timed]) / (t[timed + 2] - t[timed])
    return DoubleMeasures(
        second_minus_first_db=mean_measure(weaker, strokes.position[loud], "dB"),
        short_share=mean_measure(share, strokes.position[timed], "share"),
    )
