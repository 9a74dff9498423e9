"""Findings: one thing heard, with its evidence, not yet in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure
from evenhand.domain.remarks import Remark

# In the order of what to practise first: what makes the rest unsafe or unclear, then notes that get lost,
# then time, then sound, then ornaments.
FindingKind = Literal[
    "unlike_exercise",
    "two_alignments",
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
    """The figure behind a finding. ``ci95`` and ``n`` as in a measure."""

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
        """The hand that the measure is of; of a balance (right minus left), the softer or the later one."""
        if self.measure.startswith("balance") and self.value is not None:
            soft = self.measure.endswith("level_db")
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
