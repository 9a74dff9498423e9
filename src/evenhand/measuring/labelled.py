"""What was seen of strokes beside what people labelled: how often each was called what, and how sure that is.

A label says free, lifted or unsure, by eye. The balanced accuracy is the mean of the shares of free and of
lifted strokes that were called so, of those that were called either; its range joins Wilson's of the two
(Newcombe 1998, Stat. Med. 17:873-890, his method 10 for a sum).

Conventions: times in seconds on the sound's timeline; shares 0 to 1, figures in %.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from evenhand.measuring.estimates import share_of, too_few, wilson
from evenhand.measuring.values import Measure
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import StrokeClass
from evenhand.watching.values import RiseKind

SAME_S = 0.030
FEWEST_LABELLED = 20  # free and lifted strokes each, for a figure of both
ASKED_STROKES, ASKED_PLAYERS = 100, 3  # for a proof


@dataclass(frozen=True, slots=True)
class LabelledStroke:
    """What somebody, or the watching, said of one stroke; None where nothing was said."""

    time_s: float
    hand: Hand | None = None
    rise: RiseKind | None = None
    stroke: StrokeClass | None = None


@dataclass(frozen=True, slots=True)
class Agreement:
    """How often a stroke that was labelled so was called so; a stroke that was not judged counts as None."""

    rises: Mapping[tuple[RiseKind, RiseKind | None], int] = field(default_factory=dict)
    classes: Mapping[tuple[StrokeClass, StrokeClass | None], int] = field(default_factory=dict)
    players: frozenset[str] = frozenset()
    not_found: int = 0  # labelled, and no stroke of that hand was seen within 30 ms

    @property
    def strokes(self) -> int:
        """How many strokes have a label of their rise."""
        return sum(self.rises.values())

    @property
    def balanced(self) -> Measure:
        """Balanced accuracy of free against lifted, %, of strokes that were called either."""
        right = [self.rises.get((kind, kind), 0) for kind in ("free", "lifted")]
        wrong = [self.rises.get(pair, 0) for pair in (("free", "lifted"), ("lifted", "free"))]
        counts = [a + b for a, b in zip(right, wrong, strict=True)]
        if min(counts) < FEWEST_LABELLED:
            return too_few(sum(counts), "%", 2 * FEWEST_LABELLED)
        shares = [k / n for k, n in zip(right, counts, strict=True)]
        ranges = [wilson(k, n) for k, n in zip(right, counts, strict=True)]
        value = sum(shares) / 2
        below, above = (
            math.hypot(*(share - each[side] for share, each in zip(shares, ranges, strict=True))) / 2
            for side in (0, 1)
        )
        return Measure(100 * value, sum(counts), "%", (100 * (value - below), 100 * (value + above)))

    @property
    def same_class(self) -> Measure:
        """The share of strokes whose class was called as labelled, %, of those that have both."""
        said = {pair: n for pair, n in self.classes.items() if pair[1] is not None}
        total = sum(said.values())
        if total < FEWEST_LABELLED:
            return too_few(total, "%", FEWEST_LABELLED)
        right = sum(n for (label, called), n in said.items() if label == called)
        return share_of(right, total)

    def joined(self, other: Agreement) -> Agreement:
        """Return both together."""
        return Agreement(
            Counter(self.rises) + Counter(other.rises),
            Counter(self.classes) + Counter(other.classes),
            self.players | other.players,
            self.not_found + other.not_found,
        )


def agreement_of(player: str, labels: Sequence[LabelledStroke], seen: Sequence[LabelledStroke]) -> Agreement:
    """Hold one film's labels against what was seen in it."""
    rises: Counter[tuple[RiseKind, RiseKind | None]] = Counter()
    classes: Counter[tuple[StrokeClass, StrokeClass | None]] = Counter()
    not_found = 0
    for label in labels:
        if label.rise is None and label.stroke is None:
            continue
        near = [s for s in seen if s.hand == label.hand and abs(s.time_s - label.time_s) <= SAME_S]
        if not near:
            not_found += 1
            continue
        found = min(near, key=lambda stroke: abs(stroke.time_s - label.time_s))
        if label.rise is not None:
            rises[label.rise, found.rise] += 1
        if label.stroke is not None:
            classes[label.stroke, found.stroke] += 1
    return Agreement(rises, classes, frozenset([player]), not_found)
