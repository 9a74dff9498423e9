"""How high each hand's stick rises between its own blows: at a tempo, and over tempi.

Conventions: heights cm, times s, tempi in beats a minute of a stated beat. A way leads from a hand's blow
to its next. Those between a drag's graces have no written time and are left out, and so are those after a
buzz, which uses its rebound up.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from evenhand.craft.blows import Step
from evenhand.craft.rebound import free_height_cm, free_interval_s, kept_height_cm, rise_height_cm
from evenhand.domain.exercise import Hand
from evenhand.domain.stroke import STROKE_CLASSES, StrokeClass, StrokeHeights
from evenhand.domain.tempo import Tempo

HANDS: tuple[Hand, ...] = ("R", "L")


@dataclass(frozen=True, slots=True)
class Reach:
    """How high a stick comes in an interval: dropped, thrown as its rebound needs, and at the very most."""

    interval_s: float
    free_cm: float
    thrown_cm: float
    rise_cm: float

    @classmethod
    def within(cls, interval_s: float, restitution: float) -> Reach:
        """Work out all three."""
        return cls(
            interval_s,
            free_height_cm(interval_s),
            kept_height_cm(interval_s, restitution),
            rise_height_cm(interval_s),
        )


@dataclass(frozen=True, slots=True)
class HandLimits:
    """One hand in an exercise: its blows, its shortest way, and up to which tempo each class is free.

    ``shortest`` is None for a hand that only plays buzzes. Doubles count as two strokes here.
    """

    hand: Hand
    blows: int
    shortest: Reach | None
    free_up_to_bpm: Mapping[StrokeClass, float]


def limits_of(
    steps: Sequence[Step], tempo: Tempo, heights: StrokeHeights, restitution: float
) -> tuple[HandLimits, ...]:
    """Sum up each hand that plays."""
    return tuple(
        _limits([step for step in steps if step.blow.hand == hand], hand, tempo, heights, restitution)
        for hand in HANDS
        if any(step.blow.hand == hand for step in steps)
    )


def _limits(
    steps: list[Step], hand: Hand, tempo: Tempo, heights: StrokeHeights, restitution: float
) -> HandLimits:
    ways = [step for step in steps if is_way(step)]
    if not ways:
        return HandLimits(hand, len(steps), None, {})
    shortest_s = min(way.seconds(tempo.whole_note_s) for way in ways)
    free = {each: fastest_free_bpm(ways, heights.of(each).aim_cm, tempo.beat) for each in STROKE_CLASSES}
    return HandLimits(hand, len(steps), Reach.within(shortest_s, restitution), free)


def is_way(step: Step) -> bool:
    """Tell whether a stick could rise freely here."""
    return step.own_interval > 0 and not step.blow.buzz


def fastest_free_bpm(ways: Collection[Step], height_cm: float, beat: Fraction) -> float:
    """Return the fastest tempo at which a height needs no force on any of the ways."""
    return min(way.bpm_at(free_interval_s(height_cm), beat) for way in ways)
