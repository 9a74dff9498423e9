"""The common path: the stages of hand technique in their order, and what must be heard to go on.

How fast a stage goes is said in strokes a second of the busier hand (``music.writing.rates``), so that it
holds for any note value. Where the figures come from (docs/path.md has the sums):

- Full and half strokes and taps end at nine tenths of the rate at which a stick still rises to that height
  and falls from it by itself (``free_interval_s``), the slower swing of an upright stick taken off. The slow
  end, minutes, weeks and repetitions of these are common practice.
- A double is two wrist strokes over 200 ms and a bounce under 150 ms (Fujii, Kudo, Ohtsuki & Oda 2009: by
  will 5 to 7 movements a second). In even doubles that is 2.5 and 3.33 strokes a second of each hand, and the
  crossing is a ladder from 0.4 to 1.2 of the latter (``turn_per_s``).
- Bursts end at 6 strokes a second, the middle of those 5 to 7.
- Bounds of time and level that say "audible" are what an ear can tell (Friberg & Sundberg 1995; 1 dB).
- A ceiling is asked at three quarters of the stage's fast end; the other bounds are those of the findings
  (``measuring.rules.sound``). Which stage comes before which is common practice; the rest are conventions
  of Evenhand. A teacher may write another path (docs/path.md).
"""

from __future__ import annotations

from evenhand.music.strokes.heights import StrokeClass
from evenhand.progress.stages.path import Condition, PracticePath, Stage, StageLimits, condition

TURNING_MS, TURNED_MS = 200.0, 150.0  # as in ``music.strokes.remarks``
STEADY = (condition("spread_ms"), condition("hands_apart_ms"))
EQUAL = condition("balance_db")
KEPT_UP: tuple[tuple[StrokeClass, float], ...] = (("half", 3.0), ("full", 3.0))


def _up_to(per_s: float) -> Condition:
    return condition("ceiling_per_s", per_s)


def _days(n: int) -> Condition:
    return condition("days", n)


SEEN_WISHES = (  # for who films: bounds are conventions
    condition("free_percent", 70, holds="never"),
    condition("in_class_percent", 80, holds="never"),
    condition("heights_apart_percent", 15, holds="never"),
)


COMMON_PATH = PracticePath(
    (
        Stage(
            name="rebound",
            words="Find where the stick balances in the fingers, drop it, and let it bounce by itself.",
            stroke=None,
            rate_per_s=(0.1, 0.25),
            repetitions=(4, 8),
            minutes_a_day=(5.0, 10.0),
            weeks=(0.5, 1.0),
            conditions=(condition("free_drops", 3), condition("bounces", 6)),
            tracks=("drops",),
            limits=StageLimits(notes=8, hardness=10.0),
        ),
        Stage(
            name="half",
            words="Half strokes: throw the stick, and let it come back by itself.",
            stroke="half",
            rate_per_s=(0.5, 1.9),
            repetitions=(4, 12),
            minutes_a_day=(10.0, 15.0),
            weeks=(1.0, 2.0),
            conditions=(*STEADY, EQUAL, _up_to(1.4), _days(3), *SEEN_WISHES),
            tracks=("hand to hand", "singles", "one hand", "bursts"),
            limits=StageLimits(longest_run=8, hardness=5.0),
            record="1/4: RLRL",
        ),
        Stage(
            name="full",
            words="Full strokes, from where the stick stands upright and back to it.",
            stroke="full",
            rate_per_s=(0.4, 1.15),
            repetitions=(4, 12),
            minutes_a_day=(10.0, 15.0),
            weeks=(1.0, 2.0),
            conditions=(*STEADY, EQUAL, _up_to(0.85), _days(3), *SEEN_WISHES),
            beside=(("half", 3.0),),
            tracks=("hand to hand", "singles", "one hand", "bursts"),
            limits=StageLimits(longest_run=8, hardness=5.0),
            record="1/4: RLRL",
        ),
        Stage(
            name="tap",
            words="Taps, low and loose, up to twenty repetitions in one go.",
            stroke="tap",
            rate_per_s=(0.8, 3.0),
            repetitions=(4, 20),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 6.0),
            conditions=(*STEADY, EQUAL, _up_to(2.25), _days(4), *SEEN_WISHES),
            beside=KEPT_UP,
            tracks=("singles", "hand to hand", "bursts"),
            limits=StageLimits(longest_run=4, hardness=4.0),
            record="1/8: RLRL RLRL",
        ),
        Stage(
            name="hands alone",
            words="One hand by itself, then the other: both have the same sound and the same time.",
            stroke="tap",
            rate_per_s=(0.8, 3.0),
            repetitions=(4, 12),
            minutes_a_day=(15.0, 20.0),
            weeks=(1.0, 3.0),
            conditions=(*STEADY, EQUAL, _up_to(2.25), _days(3)),
            beside=KEPT_UP,
            tracks=("one hand", "triples"),
            limits=StageLimits(longest_run=8, notes=20, hardness=7.0),
            record="1/8: RRRR RRRR LLLL LLLL",
        ),
        Stage(
            name="two heights",
            words="Accents from high, the others from low: a down stroke stops low, an up stroke is lifted.",
            stroke="full",
            rate_per_s=(0.5, 2.0),
            repetitions=(4, 12),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 4.0),
            conditions=(*STEADY, condition("accents_db", 6.0), _days(4)),
            beside=(("half", 3.0),),
            tracks=("accents and taps", "down and up", "singles"),
            limits=StageLimits(longest_run=8, accents=True, hardness=5.5),
            record="1/8: >RLRL >RLRL >LRLR >LRLR",
        ),
        Stage(
            name="left lead",
            words="What the right hand led until now, the left leads.",
            stroke="tap",
            rate_per_s=(0.6, 2.5),
            repetitions=(4, 16),
            minutes_a_day=(15.0, 20.0),
            weeks=(1.0, 3.0),
            conditions=(*STEADY, EQUAL, _up_to(1.85), _days(3)),
            beside=KEPT_UP,
            tracks=("left lead", "paradiddles"),
            limits=StageLimits(longest_run=4, accents=True, hardness=3.0),
            record="1/8: LRLR LRLR",
        ),
        Stage(
            name="slow doubles",
            words="Doubles as two strokes of the wrist, the second as loud as the first.",
            stroke="tap",
            rate_per_s=(0.6, 2.4),
            repetitions=(4, 16),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 4.0),
            conditions=(
                condition("second_db"),
                condition("second_ms"),
                condition("hands_apart_ms"),
                _days(4),
            ),
            beside=KEPT_UP,
            tracks=("doubles", "paradiddles", "triples"),
            limits=StageLimits(longest_run=3, accents=True, hardness=3.2),
            record="1/8: RRLL RRLL",
        ),
        Stage(
            name="the crossing",
            words="Doubles up a ladder of tempos, from two strokes of the wrist to one throw and its bounce.",
            stroke="tap",
            rate_per_s=(1.33, 4.0),
            repetitions=(4, 20),
            minutes_a_day=(15.0, 20.0),
            weeks=(3.0, 8.0),
            conditions=(
                condition("second_db", within_ms=TURNING_MS),
                condition("second_ms", within_ms=TURNING_MS),
                condition("hands_apart_ms"),
                _days(4),
            ),
            beside=KEPT_UP,
            tracks=("doubles", "paradiddles"),
            limits=StageLimits(longest_run=3, accents=True, hardness=2.6),
            record="1/16: RRLL RRLL",
            formerly=("rebound doubles",),
        ),
        Stage(
            name="doubles by rebound",
            words="One throw and its bounce, faster than two strokes of the wrist can go.",
            stroke="tap",
            rate_per_s=(3.34, 5.0),
            repetitions=(4, 20),
            minutes_a_day=(15.0, 20.0),
            weeks=(4.0, 26.0),
            conditions=(
                condition("second_db", within_ms=TURNED_MS),
                condition("second_ms", within_ms=TURNED_MS),
                condition("hands_apart_ms"),
                _days(4),
            ),
            beside=KEPT_UP,
            tracks=("rolls", "doubles"),
            limits=StageLimits(longest_run=3, notes=34, accents=True, hardness=2.6),
            record="1/16: RRLL RRLL",
        ),
        Stage(
            name="speed in bursts",
            words="Fast for a few strokes, then rest: only as fast as the hands stay loose.",
            stroke="tap",
            rate_per_s=(2.4, 6.0),
            repetitions=(4, 20),
            minutes_a_day=(15.0, 20.0),
            weeks=(4.0, 26.0),
            conditions=(*STEADY, _up_to(4.0), _days(4)),
            beside=KEPT_UP,
            tracks=("bursts", "singles"),
            limits=StageLimits(longest_run=2, notes=26, accents=True, hardness=1.5),
            record="1/16: RLRL R- 1/8: -",
            formerly=("building speed",),
        ),
        Stage(
            name="grace notes",
            words="Flams, then drags: the grace low and close, its note from high.",
            stroke="full",
            rate_per_s=(0.5, 2.4),
            repetitions=(4, 12),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 8.0),
            conditions=(
                condition("grace_ms", 50.0),
                condition("grace_db", -3.0),
                condition("hands_apart_ms"),
                _days(4),
            ),
            beside=(("half", 3.0),),
            tracks=("flams", "drags", "the forty"),
            limits=StageLimits(
                longest_run=4, notes=24, accents=True, ornaments=("flam", "drag"), hardness=3.2
            ),
            record="1/8: lR rL lR rL",
        ),
        Stage(
            name="endurance",
            words="Longer in one go at a speed that stays loose; stop before it tightens.",
            stroke="tap",
            rate_per_s=(2.0, 4.0),
            repetitions=(8, 40),
            minutes_a_day=(15.0, 25.0),
            weeks=(4.0, 26.0),
            conditions=(*STEADY, condition("steady_s", 90.0), _up_to(3.0), _days(4)),
            beside=KEPT_UP,
            tracks=("hand to hand", "singles", "rolls", "odd groups"),
            limits=StageLimits(longest_run=8, notes=40, accents=True, hardness=5.0),
            record="1/16: RLRL RLRL",
        ),
        Stage(
            name="soft playing",
            words="Close to the drum and still even; accents stand far out.",
            stroke="tap",
            rate_per_s=(0.6, 2.5),
            repetitions=(4, 16),
            minutes_a_day=(15.0, 20.0),
            weeks=(2.0, 26.0),
            conditions=(*STEADY, condition("accents_db", 9.0), _days(4)),
            beside=KEPT_UP,
            tracks=("dynamics", "accents and taps", "the forty"),
            limits=StageLimits(
                longest_run=8, notes=40, accents=True, ornaments=("flam", "drag", "buzz"), hardness=4.0
            ),
            record="1/8: >RLRL RLRL >LRLR LRLR",
        ),
    )
)
