"""Findings: one thing heard, with its evidence and what to practise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FindingKind = Literal[
    "even",
    "weak_hand",
    "late_hand",
    "early_hand",
    "weak_second",
    "uneven_double",
    "accents_flat",
    "taps_high",
    "hurrying",
    "dragging",
    "tiring",
    "wandering_hand",
    "flam_flat",
    "flam_wide",
    "missed_note",
    "uneven_above_tempo",
    "cannot_tell",
    "unlike_exercise",
    "two_alignments",
]


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


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing heard. ``remedy`` is from common practice and defers to the teacher."""

    kind: FindingKind
    text: str
    evidence: Evidence | None
    remedy: str
