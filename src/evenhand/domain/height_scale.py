"""Loudness as height: a pad, a microphone and a gain, calibrated by strokes of known height.

Conventions: levels in dB re full scale as of a hit; heights in cm of the stick's tip above the drum; a
decade is a factor of ten in height. ``both`` stands for both hands together, where the hand is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure
from evenhand.domain.stroke import StrokeClass, StrokeHeights
from evenhand.domain.take import InputFacts, TakeKind

ScaleOf = Literal["R", "L", "both"]
SCALES: tuple[ScaleOf, ...] = ("R", "L", "both")
PHYSICS_DB_PER_DECADE = 10.0  # sound follows speed, 20 log10 v, and speed the root of the height


@dataclass(frozen=True, slots=True)
class ClassLevel:
    """How loud one class of stroke came: mean of ``n`` hits, and how sure that mean is for another day."""

    mean_db: float
    doubt_db: float
    n: int


@dataclass(frozen=True, slots=True)
class HandScale:
    """One hand's scale. ``level = at_10_cm_db + slope x log10(height / 10 cm)``; hits spread about it."""

    slope_db_per_decade: Measure
    at_10_cm_db: float
    spread_db: float
    classes: Mapping[StrokeClass, ClassLevel]


@dataclass(frozen=True, slots=True)
class SetUp:
    """What would change if pad, microphone or gain did. ``colours`` are dB by band, class by class."""

    kind: TakeKind
    format: str
    rate_hz: int | None
    channels: int | None
    background_db: float | None
    quietest_db: float
    loudest_db: float
    colours: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class HeightCalibration:
    """All that is kept of a calibration."""

    heights: StrokeHeights
    scales: Mapping[ScaleOf, HandScale]
    set_up: SetUp
    version: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SaidStroke:
    """What one hit most likely was. ``stroke`` is None where it lies far outside all that was calibrated."""

    time_s: float
    level_db: float
    hand: Hand | None
    repetition: int | None
    position: int | None
    stroke: StrokeClass | None
    probability: float | None
    height_cm: float
    height_ci95_cm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class SaidHeights:
    """What was said of a take. Where ``refused`` is a sentence, the set-up seems changed, and nothing is."""

    input: InputFacts
    name: str
    version: str
    refused: str | None
    strokes: tuple[SaidStroke, ...]
    warnings: tuple[str, ...] = ()
