"""Measures of a take: figures that carry their interval, their count and their unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.domain.exercise import Hand


@dataclass(frozen=True, slots=True)
class Measure:
    """One figure.

    ``value`` is None where there are too few to judge; then ``needs`` says how many
    would do. ``ci95`` is for the player's underlying value.
    """

    value: float | None
    n: int
    unit: str
    ci95: tuple[float, float] | None = None
    needs: int | None = None


@dataclass(frozen=True, slots=True)
class HandMeasures:
    """One hand. Graces and extras stay out; with accents, levels are of the unaccented."""

    timing_mean_ms: Measure
    timing_sd_ms: Measure
    interval_sd_ms: Measure
    level_mean_db: Measure
    level_sd_db: Measure
    hand_sd_ms: Measure | None = None  # two-level model; None where its signs do not allow


@dataclass(frozen=True, slots=True)
class DoubleMeasures:
    """Doubles of one hand."""

    second_minus_first_db: Measure
    short_share: Measure


@dataclass(frozen=True, slots=True)
class GraceMeasures:
    """Grace notes by main-note hand: how far ahead (ms), how much weaker (dB, negative)."""

    gap_ms: Measure
    level_db: Measure


@dataclass(frozen=True, slots=True)
class PositionMeasures:
    """One written note over all repetitions: deviation or asynchrony (ms), level (dB), misses."""

    position: int
    hand: Hand
    timing_ms: Measure
    level_db: Measure
    missed: int


@dataclass(frozen=True, slots=True)
class Measures:
    """All that was measured in one take."""

    tempo_bpm: Measure
    drift_bpm_per_min: Measure
    hands: Mapping[Hand, HandMeasures]
    balance_level_db: Measure  # right minus left
    balance_timing_ms: Measure  # right minus left
    doubles: Mapping[Hand, DoubleMeasures] = field(default_factory=dict)
    accents_over_taps_db: Mapping[Hand, Measure] = field(default_factory=dict)
    graces: Mapping[Hand, GraceMeasures] = field(default_factory=dict)
    spread_trend_ms_per_min: Measure | None = None  # fatigue: timing spread over the take
    level_trend_db_per_min: Measure | None = None
    timekeeper_sd_ms: Measure | None = None
    positions: tuple[PositionMeasures, ...] = ()
    interval_ms: float | None = None  # typical time between neighbouring notes: sets what is audible
