"""The path as it is commonly taught: rebound, half, full, tap, building speed, rebound doubles.

All of it is common practice, and a teacher may write another (docs/path.md): the order, the
heights, half strokes at 1/8 = 60 to 80 four times an exercise for a quarter of an hour a day
and one to two weeks, taps four to twenty times in one go, later five to ten minutes of half
and full strokes beside the taps and about twenty minutes in all. The other tempos, and
the bounds of the conditions that are not what an ear can tell, are conventions of Evenhand.
"""

from __future__ import annotations

from fractions import Fraction

from evenhand.domain.path import Condition, PracticePath, Stage, condition

EIGHTH = Fraction(1, 8)

STEADY = (condition("spread_ms"), condition("hands_apart_ms"))
EQUAL = condition("balance_db")


FAST_ENOUGH = (
    0.95  # of a stage's fastest tempo: what is played at that tempo shows a ceiling no higher for sure
)


def _up_to(bpm: float) -> Condition:
    """Ask for control up to a stage's fastest tempo, as far as takes within the stage can show it."""
    return condition("ceiling_bpm", round(FAST_ENOUGH * bpm))


def _days(n: int) -> Condition:
    return condition("days", n)


COMMON_PATH = PracticePath(
    (
        Stage(
            name="rebound",
            words="Find where the stick balances in the fingers, drop it, and let it bounce by itself.",
            stroke=None,
            beat=EIGHTH,
            tempo_bpm=(40.0, 60.0),
            repetitions=(4, 8),
            minutes_a_day=(5.0, 10.0),
            weeks=(0.5, 1.0),
            conditions=(condition("free_drops", 3), condition("bounces", 6)),
        ),
        Stage(
            name="half",
            words="Half strokes: throw the stick, and let it come back by itself.",
            stroke="half",
            beat=EIGHTH,
            tempo_bpm=(60.0, 80.0),
            repetitions=(4, 4),
            minutes_a_day=(15.0, 15.0),
            weeks=(1.0, 2.0),
            conditions=(*STEADY, EQUAL, _up_to(80), _days(3)),
        ),
        Stage(
            name="full",
            words="Full strokes, from where the stick stands upright and back to it.",
            stroke="full",
            beat=EIGHTH,
            tempo_bpm=(60.0, 80.0),
            repetitions=(4, 4),
            minutes_a_day=(15.0, 15.0),
            weeks=(1.0, 2.0),
            conditions=(*STEADY, EQUAL, _up_to(80), _days(3)),
        ),
        Stage(
            name="tap",
            words="Taps, low and loose, up to twenty repetitions in one go.",
            stroke="tap",
            beat=EIGHTH,
            tempo_bpm=(80.0, 160.0),
            repetitions=(4, 20),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 6.0),
            conditions=(*STEADY, EQUAL, _up_to(160), _days(4)),
            beside=(("half", 3.0), ("full", 3.0)),
        ),
        Stage(
            name="building speed",
            words="Taps faster, a little at a time, only as fast as the hands stay loose.",
            stroke="tap",
            beat=EIGHTH,
            tempo_bpm=(120.0, 320.0),
            repetitions=(4, 20),
            minutes_a_day=(20.0, 20.0),
            weeks=(4.0, 26.0),
            conditions=(*STEADY, condition("ceiling_bpm", 240.0), _days(4)),
            beside=(("half", 4.0), ("full", 4.0)),
        ),
        Stage(
            name="rebound doubles",
            words="Doubles that pass from two wrist strokes to one throw and its bounce.",
            stroke="tap",
            beat=EIGHTH,
            tempo_bpm=(120.0, 480.0),
            repetitions=(4, 20),
            minutes_a_day=(20.0, 20.0),
            weeks=(4.0, 26.0),
            conditions=(condition("second_db"), condition("hands_apart_ms"), _days(4)),
            beside=(("half", 4.0), ("full", 4.0)),
        ),
    )
)
