"""Invented students over some weeks: takes from the figures behind them, or a folder of takes.

``a_take(day)`` gives a take whose figures stray from what is asked by form on the day and by their own error;
nothing of the code under test is used to make it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.acts.takes.document import as_json
from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
from evenhand.measuring.values import HeardTake, Measure
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise
from evenhand.progress.bounce.restitution import DropKind, HeardDrop
from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.history import PastBounce, PastTake
from evenhand.take import InputFacts, Remark
from tests.players import heard_of

FIRST = date(2026, 3, 2)
TEXT = "1/8: RLRR LRLL"
WIDTH, LAPSE = 0.04, 0.02  # of the fall of control with tempo


def day(x: int) -> date:
    """Return a day so many days after the first."""
    return FIRST + timedelta(days=x)


def figure(value: float, half: float, unit: str, n: int = 32) -> Measure:
    """Give a figure with an interval of ``half`` to either side."""
    return Measure(value, n, unit, (value - half, value + half))


def spread(value: float, share: float, unit: str, n: int = 32) -> Measure:
    """Give a spread whose interval is a share to either side."""
    return Measure(value, n, unit, (value * np.exp(-share), value * np.exp(share)))


def a_take(
    on: date,
    rng: np.random.Generator | None = None,
    *,
    spread_ms: tuple[float, float] = (4.0, 4.0),
    louder_db: float = 0.0,
    later_ms: float = 0.0,
    second_db: tuple[float, float] = (-0.3, -0.3),
    tempo: str = "1/8=80",
    ceiling_bpm: float = 100.0,
    stroke: StrokeClass | None = "half",
    text: str = TEXT,
    repetitions: int = 8,
    clear: bool = True,
) -> PastTake:
    """Make a take: pairs are right and left, differences right minus left; without ``rng`` all is exact."""

    def strayed(by: float) -> float:
        return 0.0 if rng is None else float(rng.normal(0, by))

    played = Tempo.parse(tempo)
    measures = {
        "tempo_bpm": figure(played.bpm, 0.3, "bpm"),
        "balance.level_db": figure(louder_db + strayed(0.3), 0.5, "dB"),
        "balance.timing_ms": figure(later_ms + strayed(1.0), 1.5, "ms"),
    }
    for hand, its_ms, its_db in zip("RL", spread_ms, second_db, strict=True):
        measures[f"hands.{hand}.timing_sd_ms"] = spread(its_ms * np.exp(strayed(0.12)), 0.2, "ms")
        measures[f"hands.{hand}.level_sd_db"] = spread(0.6 * np.exp(strayed(0.12)), 0.2, "dB")
        measures[f"doubles.{hand}.second_minus_first_db"] = figure(its_db + strayed(0.3), 0.5, "dB")
    return PastTake(
        day=on,
        name=f"{on}.wav",
        exercise=parse_exercise(text),
        tempo=played,
        stroke=stroke,
        seconds=60.0,
        strokes={"R": 64, "L": 64},
        measures=measures,
        tried=tuple(_tried(played.bpm, ceiling_bpm, repetitions, rng)),
        findings=(),
        clear=clear,
    )


def _tried(
    bpm: float, ceiling_bpm: float, repetitions: int, rng: np.random.Generator | None
) -> list[TriedRepetition]:
    """Play repetitions: each in control by chance, as the logistic function with lapses has it."""
    chance = (1 - LAPSE) / (1 + np.exp(np.log(bpm / ceiling_bpm) / WIDTH - np.log(3)))
    out = []
    for i in range(repetitions):
        well = bool(bpm <= ceiling_bpm if rng is None else rng.random() < chance)
        out.append(TriedRepetition("take", i + 1, bpm, 4.0, 18.0, 0, well, {"R": well, "L": well}))
    return out


WHY = Remark("bounced on by itself")


def drops(on: date, *kinds: DropKind, bounces: int = 8, label: str | None = None) -> PastBounce:
    """Make a take of drops."""
    nothing = Measure(None, 0, "cm")
    kept = Measure(0.8, 6, "share", (0.78, 0.82))
    made = tuple(
        HeardDrop(float(i), (float(i),), bounces, 1.0, kept, nothing, nothing, kind, WHY, label)
        for i, kind in enumerate(kinds)
    )
    return PastBounce(on, f"{on}.wav", made)


def write_folder(
    folder: Path, takes: Sequence[tuple[int, dict[str, Any]]], *, stroke: str = "half", text: str = TEXT
) -> Path:
    """Write a student's folder; each take is (day, what ``heard_of`` takes), its figures as JSON."""
    rows = ["date,file,exercise,tempo,stroke"]
    for number, (x, player) in enumerate(takes):
        tempo = player.get("tempo", "1/8=160")
        heard = heard_of(text, seed=number, **{"repetitions": 10, **player, "tempo": tempo})
        exercise, played = parse_exercise(text), Tempo.parse(tempo)
        measures = measure(heard, exercise, played)
        take = HeardTake(
            input=InputFacts("midi", 60.0),
            exercise=exercise,
            exercise_text=text,
            tempo=played,
            heard=heard,
            measures=measures,
            findings=find(heard, measures, exercise, played),
            name=f"take-{number}.mid",
            version="0",
        )
        (folder / f"take-{number}.json").write_text(json.dumps(as_json(take)), "utf-8")
        rows.append(f"{day(x)},take-{number}.json,{text},{tempo},{stroke}")
    (folder / "takes.csv").write_text("\n".join(rows), "utf-8")
    return folder
