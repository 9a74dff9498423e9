"""Values for tests, invented. Each builder says what it gives; change what matters where it is used."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from evenhand.measuring.values import (
    DoubleMeasures,
    Evidence,
    Finding,
    FindingKind,
    GraceMeasures,
    HandMeasures,
    HeardTake,
    Measure,
    Measures,
    PositionMeasures,
)
from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import parse_exercise
from evenhand.take import ExtraHit, Heard, Hit, InputFacts, MissedNote, Remark


def measured(value: float, unit: str, n: int = 64, half: float = 0.5) -> Measure:
    """Give a figure with an interval of ``half`` to either side."""
    return Measure(value, n, unit, (value - half, value + half))


def too_few(unit: str, n: int = 1, needs: int = 8) -> Measure:
    """Give a figure that cannot be given yet."""
    return Measure(None, n, unit, None, needs)


def a_heard_take(**changes: Any) -> HeardTake:
    """Give a heard take with one of everything in it: 16 times RLRR LRLL, the left hand weak and late."""
    exercise_text = "1/8: RLRR LRLL"
    take = HeardTake(
        input=InputFacts("wav/pcm_s16le", 31.2, 48_000, 2, "mean of 2", ("the first beat is cut off",)),
        exercise=parse_exercise(exercise_text),
        exercise_text=exercise_text,
        tempo=Tempo.parse("1/8=140"),
        heard=_some_heard(),
        measures=_some_measures(),
        findings=_some_findings(),
        name="take.wav",
        version="0.1.0",
    )
    return replace(take, **changes)


def a_blind_take(**changes: Any) -> HeardTake:
    """Give a take heard without an exercise: two hits."""
    heard = Heard(hits=(Hit(0.5, -12.25, 0.99), Hit(1.0, -15.5, 0.9)))
    nothing: dict[str, Any] = {"exercise": None, "exercise_text": None, "tempo": None, "measures": None}
    return a_heard_take(**{**nothing, "heard": heard, "findings": (), **changes})


def _some_heard() -> Heard:
    hands: tuple[Hand, ...] = ("R", "L", "R", "R", "L", "R", "L", "L")
    hits = tuple(
        Hit(
            time_s=1.0 + 0.2142857 * i,
            level_db=-12.0 if hands[i % 8] == "R" else -15.5,
            confidence=0.98,
            hand=hands[i % 8],
            repetition=1 + i // 8,
            position=i % 8,
            asynchrony_ms=None,
            deviation_ms=-0.4 if hands[i % 8] == "R" else 5.1,
            written=i / 8,
        )
        for i in range(126)
    )
    return Heard(
        hits=hits,
        missed=(MissedNote(16, 6), MissedNote(16, 7)),
        extra=(ExtraHit(7.25, -30.0),),
        clicks_s=(0.1, 0.3142857),
        clock="smooth",
        tempo_bpm=139.8,
        warnings=(a_remark("The recorder rides the gain: levels are less sure."),),
    )


def _some_measures() -> Measures:
    return Measures(
        tempo_bpm=measured(139.8, "bpm", 126, 0.2),
        drift_bpm_per_min=measured(1.25, "bpm/min", 126, 0.8),
        hands={"R": _some_hand(-0.4, -12.0), "L": _some_hand(5.1, -15.5)},
        balance_level_db=measured(3.5, "dB"),
        balance_timing_ms=measured(-5.5, "ms", 126, 0.9),
        doubles={
            "R": DoubleMeasures(measured(-1.1, "dB", 16), measured(0.493, "share", 16, 0.004)),
            "L": DoubleMeasures(measured(-2.6, "dB", 16), measured(0.472, "share", 16, 0.006)),
        },
        accents_over_taps_db={"R": too_few("dB")},
        graces={"L": GraceMeasures(measured(31.5, "ms", 12), measured(-14.2, "dB", 12))},
        spread_trend_ms_per_min=measured(0.4, "ms/min", 126, 0.9),
        level_trend_db_per_min=measured(-0.7, "dB/min", 126, 0.6),
        timekeeper_sd_ms=measured(4.4, "ms", 120, 0.6),
        positions=tuple(
            PositionMeasures(i, hand, measured(ms, "ms", 16, 1.4), measured(db, "dB", 16), 1 if i > 5 else 0)
            for i, (hand, ms, db) in enumerate(_SOME_POSITIONS)
        ),
        interval_ms=214.3,
    )


_SOME_POSITIONS: tuple[tuple[Hand, float, float], ...] = (
    ("R", -0.5, -11.6),
    ("L", 4.2, -15.1),
    ("R", 0.3, -11.8),
    ("R", -1.0, -12.9),
    ("L", 5.0, -15.0),
    ("R", -0.2, -11.9),
    ("L", 4.6, -14.9),
    ("L", 6.9, -17.4),
)


def _some_hand(timing_ms: float, level_db: float) -> HandMeasures:
    return HandMeasures(
        timing_mean_ms=measured(timing_ms, "ms", half=0.8),
        timing_sd_ms=measured(6.2, "ms", half=0.9),
        interval_sd_ms=measured(8.1, "ms", half=1.1),
        level_mean_db=measured(level_db, "dB"),
        level_sd_db=measured(1.2, "dB", half=0.2),
        hand_sd_ms=measured(3.0, "ms"),
    )


def _some_findings() -> tuple[Finding, ...]:
    return (
        in_words(
            "weak_hand",
            "The left hand is 3.5 dB weaker than the right.",
            Evidence("balance.level_db", 3.5, "dB", 126, (3.0, 4.0), 1.0),
            "Sixteen slow bars with the left hand alone, both sticks at the same height, then as written.",
        ),
        in_words(
            "weak_second",
            "The second of two left strokes drops by 2.6 dB.",
            Evidence("doubles.L.second_minus_first_db", -2.6, "dB", 16, (-3.1, -2.1), 1.0, (7,)),
            "Doubles by wrist at half the tempo, the second stroke accented.",
        ),
        in_words(
            "cannot_tell",
            "Whether the left hand is late can't be told yet: 5.5 ms, and an ear can tell from 6 ms.",
            Evidence("balance.timing_ms", -5.5, "ms", 126, (-6.4, -4.6), 6.0),
            "Four more minutes of the same would tell.",
        ),
    )


def a_remark(text: str) -> Remark:
    """Make a remark as an earlier version stored it: in words."""
    return Remark("written", {"text": text})


def in_words(kind: FindingKind, text: str, evidence: Evidence | None, remedy: str) -> Finding:
    """Make a finding as an earlier version stored it: in words."""
    return Finding(kind, evidence, remark=Remark("written", {"text": text, "remedy": remedy}))
