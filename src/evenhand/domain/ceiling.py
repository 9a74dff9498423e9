"""The tempo ceiling: the fastest tempo at which an exercise is still in control.

Conventions: tempos are beats a minute in the beat of the list they came from. The
ceiling is where three repetitions of four are in control, slips apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from evenhand.domain.exercise import Hand
from evenhand.domain.measures import Measure


@dataclass(frozen=True, slots=True)
class TriedRepetition:
    """One repetition that was played: how fast, how uneven, and whether that is in control.

    ``spread_ms`` is what its hits stray from their own straight pulse (root mean
    square), ``audible_ms`` what an ear can tell at that tempo. ``hands`` says for each
    hand whether it was in control. ``lost`` counts notes missed and hits too many.
    """

    take: str
    repetition: int
    tempo_bpm: float
    spread_ms: float | None
    audible_ms: float
    lost: int
    controlled: bool
    hands: Mapping[Hand, bool]


@dataclass(frozen=True, slots=True)
class TempoCeiling:
    """The ceiling of one exercise, for both hands together and each alone.

    A measure's value is None where the tempos tried do not bound it; ``at_least_bpm``
    and ``at_most_bpm`` then say what they do tell. ``next_tempo_bpm`` is what to try
    next, None where ``enough`` is known. ``curve`` gives tempo, chance of control and
    its 95 % range; it is empty until it is to be drawn.
    """

    beat: Fraction
    ceiling: Measure
    hands: Mapping[Hand, Measure]
    tried: tuple[TriedRepetition, ...]
    next_tempo_bpm: float | None
    enough: bool
    why: str
    at_least_bpm: float | None = None
    at_most_bpm: float | None = None
    curve: tuple[tuple[float, float, float, float], ...] = ()
