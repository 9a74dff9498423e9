"""Remarks: what must be known of a take beside its figures, as a kind and its facts, not yet in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

RemarkKind = Literal[
    "written",
    "no note found",
    "notes unmatched",
    "hits off the notes",
    "two alignments",
    "hands from habit",
    "no click found",
    "another note value",
    "another tempo",
    "hits without a note",
    "maybe a count-in",
    "maybe notes",
    "corrected",
    "too few hits",
    "nothing stands out",
]
Fact = str | int | float


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark. ``written`` is one that an earlier version stored in words (its ``text``)."""

    kind: RemarkKind
    facts: Mapping[str, Fact] = field(default_factory=dict)
