"""Measures and findings of a take as values, and from where on an ear can tell a figure.

Conventions: intervals and displacements in ms, levels in dB, tempo differences as a share; an ``edge`` is the
size from which a figure is heard, in the figure's unit.

Sources: one displaced note in an even series, Friberg & Sundberg 1995 (J. Acoust. Soc. Am. 98:2524-2531);
tempo, Drake & Botte 1993 (Percept. Psychophys. 54:277-286); level, about 1 dB for short sounds
(common practice).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, get_args

from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.take import Heard, InputFacts, Remark


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


SMALLEST_AUDIBLE_MS = 6.0
AUDIBLE_SHARE_OF_INTERVAL = 0.025
AUDIBLE_LEVEL_DB = 1.0
AUDIBLE_TEMPO_SHARES = ((1, 0.06), (2, 0.04), (4, 0.032), (6, 0.03))

Side = Literal["over", "under", "open"]


def audible_ms(interval_ms: float | None) -> float:
    """Return the smallest displacement that is heard among notes this far apart.

    Where that is not known, it is what holds for close notes.

    >>> audible_ms(100.0), audible_ms(500.0), audible_ms(None)
    (6.0, 12.5, 6.0)
    """
    return max(SMALLEST_AUDIBLE_MS, AUDIBLE_SHARE_OF_INTERVAL * (interval_ms or 0.0))


def typical_interval_ms(exercise: Exercise, bpm: float, beat: Fraction) -> float:
    """Return the median time between neighbouring notes at so many beats a minute.

    >>> from evenhand.music.exercise import Note
    >>> typical_interval_ms(Exercise((Note("R", Fraction(1, 8)),)), 120.0, Fraction(1, 4))
    250.0
    """
    return exercise.usual_step * 60_000.0 / (bpm * float(beat))


def audible_tempo_share(n_intervals: int) -> float:
    """Return the smallest change of tempo that is heard over so many intervals, as a share.

    Between the published counts the next smaller one holds.

    >>> audible_tempo_share(4)
    0.032
    """
    return [share for count, share in AUDIBLE_TEMPO_SHARES if count <= max(n_intervals, 1)][-1]


def either_way(figure: Measure, edge: float, centre: float = 0.0) -> Side:
    """Judge a figure that may lie too far off to either side of ``centre``.

    Only the whole interval decides.

    >>> either_way(Measure(8.0, 40, "ms", (6.5, 9.5)), 6.0)
    'over'
    >>> either_way(Measure(-1.0, 40, "ms", (-3.0, 1.0)), 6.0)
    'under'
    """
    if figure.value is None or figure.ci95 is None:
        return "open"
    low, high = figure.ci95[0] - centre, figure.ci95[1] - centre
    if low > edge or high < -edge:
        return "over"
    return "under" if -edge <= low and high <= edge else "open"


def one_way(figure: Measure, edge: float) -> Side:
    """Judge a figure that can only be too large: over a positive edge, or below a negative one."""
    if figure.value is None or figure.ci95 is None:
        return "open"
    low, high = sorted(end * math.copysign(1.0, edge) for end in figure.ci95)
    if low > abs(edge):
        return "over"
    return "under" if high <= abs(edge) else "open"


# In the order of what to practise first: what makes the rest unsafe or unclear, then notes that get lost,
# then time, then sound, then ornaments.
FindingKind = Literal[
    "unlike_exercise",
    "two_alignments",
    "other_sticking",
    "tiring",
    "missed_note",
    "uneven_above_tempo",
    "hurrying",
    "dragging",
    "late_hand",
    "early_hand",
    "wandering_hand",
    "uneven_double",
    "weak_second",
    "weak_hand",
    "stroke_heights",
    "uneven_heights",
    "lifted_stick",
    "accents_flat",
    "taps_high",
    "flam_flat",
    "flam_wide",
    "cannot_tell",
    "even",
]
ORDER: Mapping[FindingKind, int] = {kind: rank for rank, kind in enumerate(get_args(FindingKind))}


@dataclass(frozen=True, slots=True)
class Evidence:
    """The figure behind a finding. ``measure`` is its place in a take's JSON; the rest is as in a measure."""

    measure: str
    value: float | None
    unit: str
    n: int
    ci95: tuple[float, float] | None = None
    audible_from: float | None = None
    positions: tuple[int, ...] = ()

    @property
    def figure(self) -> Measure:
        """The figure alone."""
        return Measure(self.value, self.n, self.unit, self.ci95)

    @property
    def hand(self) -> Hand | None:
        """The hand that the measure is of; of a balance (right minus left), the softer, lower or later."""
        if self.measure.startswith("balance") and self.value is not None:
            soft = self.measure.endswith(("level_db", "height_cm"))
            return "L" if (self.value > 0) == soft else "R"
        parts = self.measure.split(".")
        return "R" if "R" in parts else "L" if "L" in parts else None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing heard.

    ``question`` is what a take leaves open (``cannot_tell``), ``figures`` are those that are said beside the
    evidence, ``remark`` stands for a finding without a figure of its own, or for one that an earlier version
    stored in words (``text`` and ``remedy``). ``practise`` is False where nothing is to be practised for it.
    """

    kind: FindingKind
    evidence: Evidence | None = None
    question: FindingKind | None = None
    figures: Mapping[str, Measure] = field(default_factory=dict)
    remark: Remark | None = None
    practise: bool = True


@dataclass(frozen=True, slots=True)
class HeardTake:
    """One take, what it was judged against, and what was heard, measured and found.

    ``exercise``, ``exercise_text``, ``tempo`` and ``measures`` are None where the take
    was heard blind. ``name`` is what people call the take (its file name), ``version``
    the Evenhand that heard it.
    """

    input: InputFacts
    exercise: Exercise | None
    exercise_text: str | None
    tempo: Tempo | None
    heard: Heard
    measures: Measures | None
    findings: tuple[Finding, ...]
    name: str
    version: str
