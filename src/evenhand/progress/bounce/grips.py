"""Which grip bounces longest: the drops of several takes, put together by hand and grip.

Conventions: a drop's label is its grip and its hand, such as ``fingertips, R``. Hands are never mixed: a grip
is held against another of the same hand only, by the share of its speed that the stick keeps, of free drops
only (``judge.compare``). Drops of ``WINDOW_DAYS`` or more before the newest are left out (a convention):
grips change while they are learnt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenhand.music.exercise import HANDS, Hand
from evenhand.progress.bounce.judge import compare
from evenhand.progress.bounce.restitution import BounceComparison, HeardDrop, LabelBounce
from evenhand.progress.history import PastBounce

ENOUGH = 3  # free drops of a grip before it is held against another (a convention)
WINDOW_DAYS = 28


@dataclass(frozen=True, slots=True)
class HandGrips:
    """One hand's grips, in the order they were first tried.

    ``comparisons`` are between grips with ``ENOUGH`` free drops; ``longest`` names the one that bounces
    longer than each other of these, None where that can't be told, or where there are not two of them.
    """

    hand: Hand
    grips: tuple[LabelBounce, ...]
    comparisons: tuple[BounceComparison, ...]
    longest: str | None

    @property
    def compared(self) -> tuple[LabelBounce, ...]:
        """The grips that have enough free drops."""
        return tuple(each for each in self.grips if each.free >= ENOUGH)


def compare_grips(bounces: Sequence[PastBounce]) -> tuple[HandGrips, ...]:
    """Compare the grips of each hand that has any, by all takes of the newest days."""
    newest = max((each.day for each in bounces), default=None)
    recent = [each for each in bounces if newest and (newest - each.day).days < WINDOW_DAYS]
    drops = [drop for each in recent for drop in each.drops]
    found = ((hand, [of for drop in drops if (of := _in_grip(drop, hand))]) for hand in HANDS)
    return tuple(_of_hand(hand, named) for hand, named in found if named)


def _in_grip(drop: HeardDrop, hand: Hand) -> HeardDrop | None:
    """Label a drop with its grip alone; None where it is of the other hand, or its grip is not known."""
    grip, _, of = (drop.label or "").rpartition(",")
    return replace(drop, label=grip.strip()) if of.strip() == hand and grip.strip() else None


def _of_hand(hand: Hand, drops: Sequence[HeardDrop]) -> HandGrips:
    grips, _, _ = compare(drops)
    enough = {each.label for each in grips if each.free >= ENOUGH}
    _, pairs, longest = compare([drop for drop in drops if drop.label in enough])
    return HandGrips(hand, grips, pairs, longest)
