"""How fast an exercise is for the hand that has more to do, and at which tempo that is as asked.

Conventions: a hand's rate is that of its fastest three strokes in a row, around the repeat: two of its own
intervals together, so that a double's short one stands with the long one after it. Graces are strokes of
their hand; two graces before one note count as one stroke, for the second is a bounce. Rates are strokes in
a whole note, or a second.

Doubles turn from two wrist strokes to one throw and its bounce where their notes come closer than two things:
what wrists do by will (150 ms; Fujii, Kudo, Ohtsuki & Oda 2009, see ``music.strokes.remarks``), and the time
after which a stick thrown from that height is back by itself.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo, bpm_of
from evenhand.music.strokes.rebound import ASSUMED_RESTITUTION, blows_of, bounce_interval_s
from evenhand.music.strokes.remarks import BOUNCE_UNDER_S


@lru_cache(maxsize=4096)
def hand_rates(exercise: Exercise) -> dict[Hand, float]:
    """Return each hand's strokes in a whole note, at its fastest; a hand that plays nothing is not there."""
    starts: dict[Hand, set[Fraction]] = {}
    for blow in blows_of(exercise):
        starts.setdefault(blow.hand, set()).add(blow.start)
    return {hand: _fastest(sorted(starts[hand]), exercise.length) for hand in HANDS if hand in starts}


def _fastest(starts: list[Fraction], length: Fraction) -> float:
    """Return the rate of the fastest three strokes in a row."""
    around = [*starts, *(start + length for start in starts), *(start + 2 * length for start in starts[:2])]
    return float(max(2 / (third - first) for first, third in zip(around, around[2:], strict=False)))


def hand_rate(exercise: Exercise) -> float:
    """Return the strokes in a whole note of the busier hand.

    >>> from evenhand.music.text import parse_exercise
    >>> hand_rate(parse_exercise("1/8: RLRL")), hand_rate(parse_exercise("1/8: RRLL"))
    (4.0, 4.0)
    """
    return max(hand_rates(exercise).values(), default=0.0)


def rate_per_s(exercise: Exercise, tempo: Tempo) -> float:
    """Return the strokes a second of the busier hand.

    >>> from evenhand.music.text import parse_exercise
    >>> rate_per_s(parse_exercise("1/8: RLRL"), Tempo.parse("1/8=120"))
    1.0
    """
    return hand_rate(exercise) / tempo.whole_note_s


def tempo_bounds(exercise: Exercise, rates_per_s: tuple[float, float], beat: Fraction) -> tuple[float, float]:
    """Return the beats a minute at which the busier hand plays so many strokes a second.

    >>> from evenhand.music.text import parse_exercise
    >>> tempo_bounds(parse_exercise("1/16: RLRL"), (1.0, 2.0), Fraction(1, 4))
    (30.0, 60.0)
    """
    rate = hand_rate(exercise)
    slow, fast = (bpm_of(rate / each, beat) for each in rates_per_s)
    return slow, fast


def turn_s(height_cm: float, restitution: float = ASSUMED_RESTITUTION) -> float:
    """Return how close a double's notes are where its second turns into a bounce, from a height.

    >>> turn_s(10.16)
    0.15
    """
    return min(BOUNCE_UNDER_S, bounce_interval_s(height_cm, restitution))


def turn_per_s(height_cm: float, restitution: float = ASSUMED_RESTITUTION) -> float:
    """Return the strokes a second of a hand in even doubles (RRLL) at the turn: two in four of its notes.

    >>> round(turn_per_s(10.16), 2)
    3.33
    """
    return 1 / (2 * turn_s(height_cm, restitution))


def double_interval_s(exercise: Exercise, tempo: Tempo) -> float | None:
    """Return the shortest time between two notes in a row by one hand; None where there are none."""
    notes = [(start, exercise.notes[at].hand) for start, at in _struck(exercise)]
    around = [*notes, (notes[0][0] + exercise.length, notes[0][1])] if notes else []
    found = [later - earlier for (earlier, one), (later, two) in pairwise(around) if one == two]
    return float(min(found)) * tempo.whole_note_s if found else None


def _struck(exercise: Exercise) -> list[tuple[Fraction, int]]:
    return [(exercise.starts[at], at) for at in exercise.struck]
