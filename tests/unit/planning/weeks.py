"""Past takes as values, for planning: what was played when, and what was heard in it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from evenhand.measuring.values import Finding, Measure
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.music.text import parse_exercise
from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.history import PastTake

FIRST = date(2026, 9, 7)  # a Monday


def well(bpm: float, n: int = 8, *, controlled: bool = True) -> tuple[TriedRepetition, ...]:
    """Give repetitions at a tempo, all in control or none."""
    return tuple(TriedRepetition("t", i, bpm, 4.0, 6.0, 0, controlled, {}) for i in range(n))


def past_take(
    text: str,
    tempo: str,
    day: int,
    *,
    findings: tuple[Finding, ...] = (),
    tried: tuple[TriedRepetition, ...] = (),
    measures: Mapping[str, Measure] | None = None,
    stroke: StrokeClass | None = "tap",
) -> PastTake:
    """Give a take, so many days after the first Monday."""
    return PastTake(
        FIRST + timedelta(days=day),
        f"{day}.wav",
        parse_exercise(text),
        Tempo.parse(tempo),
        stroke,
        60.0,
        {"R": 32, "L": 32},
        measures or {},
        tried,
        findings,
    )
