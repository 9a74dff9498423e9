"""Drops of the stick: how freely it rebounds when it is left alone.

Conventions: times in seconds from the first decoded sample; heights in cm as of a free fall;
restitution is the share of its speed that the stick keeps at a blow, so also the ratio of
neighbouring flights. A drop's blows count from 0; ``bounces`` counts them all, the landing too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenhand.domain.measures import Measure
from evenhand.domain.take import InputFacts

DropKind = Literal["free", "damped", "unsure"]


@dataclass(frozen=True, slots=True)
class HeardDrop:
    """One drop and what followed by itself.

    ``hits_s`` are the blows that were heard; ``bounces`` counts also those that must have been in
    between. ``first_height_cm`` is where the stick was dropped from, ``rebound_height_cm`` how high it came
    after its first blow. ``label`` is the grip or the hand, where that is known. ``why`` says in a
    sentence what makes the drop free, damped or unsure.
    """

    start_s: float
    hits_s: tuple[float, ...]
    bounces: int
    rings_s: float  # from the first blow to the last that was heard
    restitution: Measure
    first_height_cm: Measure
    rebound_height_cm: Measure
    kind: DropKind
    why: str
    label: str | None = None
    damped_from_s: float | None = None


@dataclass(frozen=True, slots=True)
class LabelBounce:
    """All free drops of one grip or hand."""

    label: str
    drops: int  # all of them, damped and unsure ones too
    free: int
    restitution: Measure
    bounces: Measure


@dataclass(frozen=True, slots=True)
class BounceComparison:
    """Which of two labels keeps more of its speed: ``difference`` is first minus second."""

    first: str
    second: str
    difference: Measure
    longer: str | None  # None: can't tell


@dataclass(frozen=True, slots=True)
class HeardBounce:
    """One take of drops. ``longest`` is the label that bounces longest; None: can't tell, or no labels."""

    input: InputFacts
    drops: tuple[HeardDrop, ...]
    labels: tuple[LabelBounce, ...]
    comparisons: tuple[BounceComparison, ...]
    longest: str | None
    name: str
    version: str
    stray_s: tuple[float, ...] = ()
    warnings: tuple[str, ...] = ()
