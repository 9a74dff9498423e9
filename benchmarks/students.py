"""Invented students as values: hidden hands, the takes they give, and how a week of practice changes them.

No sound is made: a take is what the ear would say of it, with the spread of its figures. A fault is heard
where its whole 95 % range lies beyond what an ear can tell. All figures here are invented.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from evenhand.measuring.values import (
    AUDIBLE_LEVEL_DB,
    Evidence,
    Finding,
    FindingKind,
    Measure,
    audible_ms,
    typical_interval_ms,
)
from evenhand.music.exercise import Hand, Tempo
from evenhand.music.writing.rates import rate_per_s
from evenhand.planning.practice import PracticeItem, PracticePlan
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.history import History, PastBounce, PastTake
from evenhand.take import Remark

FIRST = date(2026, 9, 7)  # a Monday
RECORDED_DAYS = (0, 2, 4)  # of a week's practice days
REPETITIONS = 8


@dataclass
class HiddenFault:
    """A fault's size in its unit, and after how many changes of treatment it begins to mend."""

    kind: FindingKind
    hand: Hand | None
    size: float
    measure: str
    unit: str
    error: float
    mends_from: int = 0  # treatments that do nothing for it


@dataclass
class InventedStudent:
    """One student: how fast the hands stay in control, what is wrong, and what was played so far."""

    stage: str
    minutes: float
    days: int
    ceiling_per_s: float
    faults: list[HiddenFault]
    rng: np.random.Generator
    takes: list[PastTake] = field(default_factory=list)
    bounces: list[PastBounce] = field(default_factory=list)
    damped: bool = False

    @property
    def history(self) -> History:
        """What the tool has heard."""
        return History(tuple(self.takes), tuple(self.bounces), student="Noor Halvorsen")

    def play(self, plan: PracticePlan, week: int) -> None:
        """Record what the week asks to record, on three of its days, and one focus piece beside."""
        for index in (each for each in RECORDED_DAYS if each < len(plan.days)):
            on = FIRST + timedelta(days=7 * week + index * 7 // len(plan.days))
            items = plan.days[index].items
            kept = [item for item in items if item.block == "record"]
            kept += [item for item in items if item.block == "focus"][-1:]
            for number, item in enumerate(kept):
                if item.stroke is None:
                    self.bounces.append(self._drops(on))
                else:
                    self.takes.append(self._take(item, on, f"{on}-{number}"))

    def practise(self, plan: PracticePlan) -> None:
        """Change by a week: what was worked on mends a little, the ceiling rises a little."""
        items = [item for day in plan.days for item in day.items]
        self.ceiling_per_s *= 1 + 0.05 * min(1.0, sum(item.seconds for item in items) / 3000)
        self.damped = self.damped and not any(item.stroke is None for item in items)
        for fault in self.faults:
            told = [
                r for i in items for r in i.why if r.facts.get("told") == fault.kind and i.block == "focus"
            ]
            changes = sum(r.kind == "another treatment" for r in plan.notes)
            if told and changes >= fault.mends_from:
                fault.size *= 0.82

    def _take(self, item: PracticeItem, on: date, name: str) -> PastTake:
        per_s = rate_per_s(item.exercise, item.tempo)
        interval = typical_interval_ms(item.exercise, item.tempo.bpm, item.tempo.beat)
        edge = audible_ms(interval)
        measures: dict[str, Measure] = {}
        findings = list(self._findings(item, edge, measures))
        for hand in ("R", "L"):
            sd = float(edge * 0.7 * self.rng.uniform(0.85, 1.15))
            measures[f"hands.{hand}.timing_sd_ms"] = Measure(sd, 64, "ms", (0.85 * sd, 1.2 * sd))
        for place, usual, unit in USUAL:
            value = usual + float(self.rng.normal(0, 0.01 if unit == "share" else 0.2))
            reach = 0.02 if unit == "share" else 0.4
            measures.setdefault(place, Measure(value, 64, unit, (value - reach, value + reach)))
        return PastTake(
            on,
            name,
            item.exercise,
            item.tempo,
            item.stroke,
            item.seconds,
            {"R": 64, "L": 64},
            measures,
            tuple(self._tried(item.tempo, per_s, edge, name, max(item.repetitions, REPETITIONS))),
            tuple(findings) or (Finding("even"),),
        )

    def _findings(self, item: PracticeItem, edge: float, measures: dict[str, Measure]) -> Iterator[Finding]:
        hands = {note.hand for note in item.exercise.notes}
        doubles = any(
            a.hand is not None and a.hand == b.hand
            for a, b in zip(item.exercise.notes, item.exercise.notes[1:], strict=False)
        )
        for fault in self.faults:
            if not {"R", "L"} <= hands or (fault.measure.startswith("doubles") and not doubles):
                continue
            sign = -1.0 if fault.unit == "dB" and fault.measure.startswith("doubles") else 1.0
            sign = sign if fault.hand != "R" or not fault.measure.startswith("balance") else -sign
            value = sign * fault.size + float(self.rng.normal(0, fault.error))
            reach = 2 * fault.error
            figure = Measure(value, 64, fault.unit, (value - reach, value + reach))
            measures[fault.measure] = figure
            from_ = {"ms": edge, "dB": AUDIBLE_LEVEL_DB}.get(fault.unit, 3.0)
            if abs(value) - reach > from_:
                evidence = Evidence(fault.measure, value, fault.unit, 64, figure.ci95, from_, (1,))
                yield Finding(fault.kind, evidence)

    def _tried(self, tempo: Tempo, per_s: float, edge: float, name: str, n: int) -> Iterator[TriedRepetition]:
        odds = math.log(per_s / self.ceiling_per_s) / 0.06 - math.log(3)
        chance = 1 / (1 + math.exp(min(odds, 50.0)))
        for number in range(n):
            controlled = bool(self.rng.random() < chance)
            bpm = tempo.bpm * float(self.rng.normal(1, 0.004))
            yield TriedRepetition(
                name, number, bpm, 0.7 * edge if controlled else 1.4 * edge, edge, 0, controlled, {}
            )

    def _drops(self, on: date) -> PastBounce:
        nothing = Measure(None, 0, "")

        def drop(hand: Hand) -> HeardDrop:
            held = self.damped and hand == "L"
            bounces, kind = (3, "damped") if held else (14, "free")
            return HeardDrop(
                0.0, (0.0, 0.3), bounces, 1.5, nothing, nothing, nothing,
                "damped" if kind == "damped" else "free",
                Remark("bounced on by itself"), hand,
            )  # fmt: skip

        return PastBounce(on, f"{on}", tuple(drop(hand) for hand in ("R", "L") for _ in range(4)))


USUAL = (  # figures of a player without faults, where an exercise has what they measure
    ("balance.level_db", 0.0, "dB"),
    ("balance.timing_ms", 0.0, "ms"),
    *((f"doubles.{hand}.second_minus_first_db", 0.0, "dB") for hand in "RL"),
    *((f"doubles.{hand}.short_share", 0.5, "share") for hand in "RL"),
    *((f"accents.{hand}.over_taps_db", 11.0, "dB") for hand in "RL"),
    *((f"graces.{hand}.gap_ms", 28.0, "ms") for hand in "RL"),
    *((f"graces.{hand}.level_db", -10.0, "dB") for hand in "RL"),
)
KINDS: tuple[tuple[FindingKind, Hand | None, str, str, float, tuple[float, float]], ...] = (
    ("weak_hand", "L", "balance.level_db", "dB", 0.3, (2.0, 6.0)),
    ("weak_hand", "R", "balance.level_db", "dB", 0.3, (2.0, 6.0)),
    ("late_hand", "L", "hands.L.timing_mean_ms", "ms", 2.0, (20.0, 60.0)),
    ("wandering_hand", "L", "hands.L.timing_sd_ms", "ms", 1.5, (20.0, 60.0)),
    ("weak_second", "R", "doubles.R.second_minus_first_db", "dB", 0.4, (2.0, 6.0)),
    ("uneven_double", "L", "doubles.L.short_share", "share", 0.02, (0.1, 0.2)),
    ("hurrying", None, "drift_bpm_per_min", "bpm/min", 1.0, (6.0, 14.0)),
    ("tiring", None, "fatigue.level_trend_db_per_min", "dB/min", 0.5, (5.0, 9.0)),
)


def invented(seed: int, stages: list[tuple[str, tuple[float, float]]]) -> InventedStudent:
    """Invent a student: a stage, minutes and days, hands, and up to three faults of different kinds."""
    rng = np.random.default_rng(seed)
    name, (slow, fast) = stages[seed % len(stages)]
    places = rng.choice(len(KINDS), size=int(rng.integers(0, 4)), replace=False)
    faults = list[HiddenFault]()
    for place in places:
        kind, hand, measure, unit, error, (low, high) = KINDS[int(place)]
        if all(each.measure != measure for each in faults):
            size = float(rng.uniform(low, high))
            faults.append(HiddenFault(kind, hand, size, measure, unit, error, int(rng.integers(0, 2))))
    return InventedStudent(
        stage=name,
        minutes=float(rng.choice([5, 8, 10, 12, 15, 20, 25, 30])),
        days=int(rng.integers(2, 7)),
        ceiling_per_s=float(rng.uniform(1.3 * slow, 1.1 * fast)),
        faults=faults,
        rng=rng,
        damped=bool(rng.random() < 0.5),
    )
