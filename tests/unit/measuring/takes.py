"""Invented takes for the pages: what was heard is chosen here, its figures are worked plainly.

The figures' intervals are mean ± 2 standard errors: enough to draw, no claim of the measuring room's.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from statistics import fmean, stdev

from evenhand.measuring.values import (
    DoubleMeasures,
    Evidence,
    Finding,
    GraceMeasures,
    HandMeasures,
    HeardTake,
    Measure,
    Measures,
    PositionMeasures,
)
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.music.text import parse_exercise
from evenhand.take import ExtraHit, Heard, Hit, InputFacts, MissedNote
from tests.builders import in_words

HANDS: tuple[Hand, Hand] = ("R", "L")
SIXTEEN = "1/16: >RLRR LRLL >RLRR LRLL"
DOUBLES = DoubleMeasures(Measure(-2.4, 22, "dB", (-3.1, -1.7)), Measure(0.482, 22, "", (0.47, 0.49)))
GRACES = GraceMeasures(Measure(30.2, 20, "ms", (28.0, 32.4)), Measure(-12.0, 20, "dB", (-12.6, -11.4)))


@dataclass(frozen=True)
class Played:
    """How a take is played: everything that a picture may have to show."""

    text: str = SIXTEEN
    tempo: str = "1/8 = 140"
    repetitions: int = 12
    late_ms: dict[Hand, float] = field(default_factory=dict)
    louder_db: dict[Hand, float] = field(default_factory=dict)
    position_late_ms: dict[int, float] = field(default_factory=dict)
    position_louder_db: dict[int, float] = field(default_factory=dict)
    spread_ms: float = 4.0
    growing: float = 0.0  # how much wider the spread is at the end
    drift: float = 0.0  # share of the tempo lost by the end
    missed: frozenset[tuple[int, int]] = frozenset()
    extra_after: tuple[tuple[int, int], ...] = ()
    stops: dict[tuple[int, int], float] = field(
        default_factory=dict
    )  # before (repetition, position): seconds
    broken: dict[int, int] = field(default_factory=dict)  # repetition: plays only so many positions
    begins_at: int = 0
    gap_ms: float = 30.0
    whole_take_ms: float = 0.0
    click: bool = True
    seed: int = 7


def heard_in(played: Played) -> Heard:
    """Play it: every blow's time and level."""
    rng = random.Random(played.seed)  # noqa: S311 - invented playing, no secret
    exercise = parse_exercise(played.text)
    whole_s = Tempo.parse(played.tempo).whole_note_s
    hits: list[Hit] = []
    missed: list[MissedNote] = []
    extra: list[ExtraHit] = []
    now, stretch, written = 2.0, 0, 0.0
    slots = list(_slots(exercise, played))
    for i, (repetition, position) in enumerate(slots):
        if (repetition, position) in played.stops:
            now += played.stops[repetition, position]
            stretch += 1
        note, share = exercise.notes[position], i / max(1, len(slots))
        step_s = float(note.value) * whole_s * (1 + played.drift * share)
        if note.hand is not None and (repetition, position) in played.missed:
            missed.append(MissedNote(repetition, position))
        elif note.hand is not None:
            late = _late(played, rng, note.hand, position, share)
            level = _level(played, rng, note.hand, position, accent=note.accent)
            at = now + late / 1000
            for k, hand in enumerate(note.graces):
                ahead = (len(note.graces) - k) * played.gap_ms + rng.gauss(0, 4)
                hits.append(
                    Hit(at - ahead / 1000, level - 12 + rng.gauss(0, 1), 0.9, hand, repetition, position,
                        grace=True, stretch=stretch, written=written)
                )  # fmt: skip
            hits.append(
                Hit(at, level, 0.95, note.hand, repetition, position, stretch=stretch, written=written,
                    asynchrony_ms=late if played.click else None, deviation_ms=late)
            )  # fmt: skip
        if (repetition, position) in played.extra_after:
            extra.append(ExtraHit(now + 0.45 * step_s, -34.0))
        now += step_s
        written += float(note.value)
    clicks = tuple(2.0 + k * Tempo.parse(played.tempo).beat_s for k in range(8)) if played.click else ()
    return Heard(
        hits=tuple(sorted(hits, key=lambda hit: hit.time_s)),
        missed=tuple(missed),
        extra=tuple(extra),
        clicks_s=clicks,
        clock="click" if played.click else "smooth",
        tempo_bpm=Tempo.parse(played.tempo).bpm / (1 + played.drift / 2),
    )


def _slots(exercise: Exercise, played: Played) -> Iterator[tuple[int, int]]:
    for repetition in range(1, played.repetitions + 1):
        first = played.begins_at if repetition == 1 else 0
        for position in range(first, played.broken.get(repetition, len(exercise.notes))):
            yield repetition, position


def _late(played: Played, rng: random.Random, hand: Hand, position: int, share: float) -> float:
    spread = played.spread_ms * (1 + played.growing * share)
    mean = played.late_ms.get(hand, 0.0) + played.position_late_ms.get(position, 0.0)
    return played.whole_take_ms + mean + rng.gauss(0, spread)


def _level(played: Played, rng: random.Random, hand: Hand, position: int, *, accent: bool) -> float:
    mean = played.louder_db.get(hand, 0.0) + played.position_louder_db.get(position, 0.0)
    return -24.0 + mean + (8.0 if accent else 0.0) + rng.gauss(0, 0.9)


def take_of(played: Played, *findings: Finding, name: str = "invented take.wav") -> HeardTake:
    """Return the whole take: heard, measured, found."""
    exercise, heard = parse_exercise(played.text), heard_in(played)
    return HeardTake(
        input=InputFacts("wav/pcm_s16le", heard.hits[-1].time_s + 1.5, 44_100, 2, "mean of 2"),
        exercise=exercise,
        exercise_text=played.text,
        tempo=Tempo.parse(played.tempo),
        heard=heard,
        measures=measures_of(heard, exercise, Tempo.parse(played.tempo)),
        findings=findings or (EVEN,),
        name=name,
        version="0.0.0",
    )


def measures_of(heard: Heard, exercise: Exercise, tempo: Tempo) -> Measures:
    """Work out plain figures from the hits."""
    mains = [hit for hit in heard.hits if not hit.grace]
    by_hand = {hand: [hit for hit in mains if hit.hand == hand] for hand in HANDS}
    accents = {i for i, note in enumerate(exercise.notes) if note.accent}
    plain = {hand: [hit for hit in hits if hit.position not in accents] for hand, hits in by_hand.items()}
    values = sorted(float(note.value) for note in exercise.notes)
    graces = [hit for hit in heard.hits if hit.grace]
    return Measures(
        tempo_bpm=Measure(heard.tempo_bpm, len(mains), "bpm", _around(heard.tempo_bpm or 0, 0.3)),
        drift_bpm_per_min=Measure(-0.6, len(mains), "bpm/min", (-1.5, 0.3)),
        hands={hand: _hand(by_hand[hand], plain[hand]) for hand in HANDS},
        balance_level_db=_difference(plain, lambda hit: hit.level_db, "dB"),
        balance_timing_ms=_difference(by_hand, lambda hit: hit.deviation_ms or 0.0, "ms"),
        doubles={"L": DOUBLES},
        accents_over_taps_db={"R": Measure(7.9, 24, "dB", (7.4, 8.4))} if exercise.has_accents else {},
        graces={"R": GRACES} if graces else {},
        spread_trend_ms_per_min=Measure(1.8, len(mains), "ms/min", (0.6, 3.0)),
        level_trend_db_per_min=Measure(None, 3, "dB/min", None, 40),
        timekeeper_sd_ms=Measure(3.1, len(mains), "ms", (2.2, 3.9)),
        positions=tuple(_position(heard, exercise, position) for position in exercise.struck),
        interval_ms=values[len(values) // 2] * tempo.whole_note_s * 1000,
    )  # fmt: skip


def _hand(hits: Sequence[Hit], unaccented: Sequence[Hit]) -> HandMeasures:
    late = [hit.deviation_ms or 0.0 for hit in hits]
    level = [hit.level_db for hit in unaccented]
    timing, spread = mean_of(late, "ms"), spread_of(late, "ms")
    return HandMeasures(timing, spread, spread, mean_of(level, "dB"), spread_of(level, "dB"))


def _position(heard: Heard, exercise: Exercise, position: int) -> PositionMeasures:
    own = [hit for hit in heard.hits if hit.position == position and not hit.grace]
    missed = sum(note.position == position for note in heard.missed)
    late = mean_of([hit.deviation_ms or 0.0 for hit in own], "ms")
    return PositionMeasures(
        position, exercise.notes[position].hand or "R", late, mean_of([h.level_db for h in own], "dB"), missed
    )


def _difference(by_hand: dict[Hand, list[Hit]], of: Callable[[Hit], float], unit: str) -> Measure:
    right, left = ([of(hit) for hit in by_hand[hand]] for hand in HANDS)
    if min(len(right), len(left)) < 3:
        return Measure(None, 0, unit, None, 8)
    value = fmean(right) - fmean(left)
    error = math.hypot(stdev(right) / math.sqrt(len(right)), stdev(left) / math.sqrt(len(left)))
    return Measure(value, len(right) + len(left), unit, _around(value, 2 * error))


def mean_of(values: Sequence[float], unit: str) -> Measure:
    """Return the mean, two standard errors to either side."""
    if len(values) < 3:
        return Measure(None, len(values), unit, None, 3)
    return Measure(
        fmean(values), len(values), unit, _around(fmean(values), 2 * stdev(values) / math.sqrt(len(values)))
    )


def spread_of(values: Sequence[float], unit: str) -> Measure:
    """Return the spread, two standard errors to either side."""
    if len(values) < 3:
        return Measure(None, len(values), unit, None, 3)
    value = stdev(values)
    return Measure(value, len(values), unit, _around(value, 2 * value / math.sqrt(2 * len(values))))


def _around(value: float, half: float) -> tuple[float, float]:
    return value - half, value + half


EVEN = in_words("even", "Even to the ear, in time and in loudness.", None, "")
LATE_LEFT = in_words(
    "late_hand",
    "The left hand comes about 9 ms late, throughout the take.",
    Evidence("balance.timing_ms", -9.1, "ms", 192, (-10.2, -8.0), 6.0, (1, 4, 6, 7, 9, 12, 14, 15)),
    "Left hand alone with the click for a minute, then together, at 3/4 of the tempo.",
)
WEAK_SECOND = in_words(
    "weak_second",
    "The second note of the left hand's doubles is 3 dB softer than the first.",
    Evidence("doubles.L.second_minus_first_db", -3.1, "dB", 24, (-3.8, -2.4), 1.0, (7, 15)),
    "Doubles from the left hand alone, the second stroke lifted as high as the first.",
)
MISSED_TWELVE = in_words(
    "missed_note",
    "Note 12 was not heard in three of twelve repetitions: the change from two rights to the left.",
    Evidence("missed", 3, "notes", 12, None, None, (11,)),
    "The four notes around that hand change, as a loop, slowly.",
)
TIRING = in_words(
    "tiring",
    "The timing spreads as the take goes on: rest earlier, or play it slower.",
    Evidence("fatigue.spread_trend_ms_per_min", 6.2, "ms/min", 384, (3.9, 8.5)),
    "Half as long, then a minute's rest. Stop where it hurts.",
)

GOOD = take_of(Played())
LATE = take_of(
    Played(late_ms={"L": 9.0}, louder_db={"L": -3.0}, position_louder_db={7: -3, 15: -3},
           missed=frozenset({(8, 11), (9, 11), (11, 11)}), extra_after=((4, 6), (10, 15))),
    LATE_LEFT, WEAK_SECOND, MISSED_TWELVE, name="tuesday evening.m4a",
)  # fmt: skip
TIRED = take_of(Played(repetitions=24, growing=2.5, drift=0.05, click=False), TIRING)
STOPPED = take_of(
    Played(repetitions=10, stops={(4, 0): 3.2, (7, 5): 1.4}, broken={3: 9}, begins_at=6, click=False),
    TIRING,
)
FLAMS = take_of(Played(text="1/8: lR rL lR rL | llR rrL R L", tempo="1/4 = 80", repetitions=10, spread_ms=6))
TRIPLETS = take_of(Played(text="1/12: R-L RLR -LR L-L", tempo="1/4 = 88", repetitions=14, spread_ms=7))
FOUR = take_of(Played(text="1/8: RLRL", tempo="1/8 = 180", repetitions=60, late_ms={"R": -4, "L": 4}))
LONG = take_of(
    Played(text="1/16: " + "RLRR LRLL RLRL RRLL " * 4, tempo="1/4 = 90", repetitions=4, late_ms={"L": 6}),
    LATE_LEFT,
)
MANY = take_of(Played(repetitions=200, late_ms={"L": 7}, growing=1.0, missed=frozenset({(30, 3), (90, 3)})))
OFF_CLICK = take_of(Played(whole_take_ms=-34.0, late_ms={"L": 8}), LATE_LEFT)
MIXED = take_of(Played(text="1/8: R L 1/16: RLRR 1/8: L - 1/16: RLLR", tempo="1/4 = 76", spread_ms=9))
FEW = take_of(Played(repetitions=2))
BLIND = replace(
    LATE,
    exercise=None,
    exercise_text=None,
    tempo=None,
    measures=None,
    findings=(),
    heard=Heard(
        hits=tuple(Hit(h.time_s, h.level_db, h.confidence) for h in LATE.heard.hits),
        clicks_s=LATE.heard.clicks_s,
    ),
)

TAKES: dict[str, HeardTake] = {
    "good": GOOD,
    "late": LATE,
    "tired": TIRED,
    "stopped": STOPPED,
    "flams": FLAMS,
    "triplets": TRIPLETS,
    "four": FOUR,
    "long": LONG,
    "many": MANY,
    "off_click": OFF_CLICK,
    "mixed": MIXED,
    "few": FEW,
    "blind": BLIND,
}
