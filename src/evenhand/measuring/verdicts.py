"""A figure against what an ear can tell: plainly over it, plainly under it, or not to be told yet.

Conventions: ``edge`` is the size from which a figure is heard, in the figure's unit; a verdict's ``times`` is
the figure's size in edges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenhand.domain.audible import Side
from evenhand.domain.exercise import Hand
from evenhand.domain.findings import Evidence, Finding, FindingKind
from evenhand.domain.measures import Measure
from evenhand.measuring.remedies import BOTH_HANDS, REMEDIES
from evenhand.measuring.wording import NAMES, OTHERS, counted, sentence

MOST_REPETITIONS = 100  # a longer take than this is not asked for


@dataclass(frozen=True, slots=True)
class Verdict:
    """One question asked of a take.

    ``text`` is the finding's sentence if the figure is over its edge; ``asks`` follows "can't tell yet" if it
    is open. Where small is wrong (``small_is_wrong``), over means under: too flat, too little.
    """

    kind: FindingKind
    side: Side
    measure: str
    figure: Measure
    edge: float
    text: str
    asks: str
    hand: Hand | None = None
    positions: tuple[int, ...] = ()
    centre: float = 0.0
    small_is_wrong: bool = False
    both_hands: bool = False

    @property
    def size(self) -> float:
        """Return the figure's size, in its unit."""
        return abs((self.figure.value or 0.0) - self.centre)

    @property
    def times(self) -> float:
        """Return how far the figure is beyond its edge, as a ratio."""
        return self.edge / max(self.size, 1e-9) if self.small_is_wrong else self.size / self.edge

    def finding(self) -> Finding:
        """Return what is to be said where the figure is over its edge."""
        advice = BOTH_HANDS[self.kind] if self.both_hands else remedy(self.kind, self.hand)
        return Finding(self.kind, sentence(self.text), self._evidence(), advice)

    def cannot_tell(self, repetitions: int) -> Finding:
        """Return what is to be said where the figure is open, with how many repetitions would tell."""
        return Finding(
            "cannot_tell",
            f"Can't tell yet {self.asks}. {self._would_tell(repetitions)}",
            self._evidence(),
            remedy("cannot_tell", None),
        )

    def _would_tell(self, repetitions: int) -> str:
        """Say how many repetitions would tell; intervals shrink with the root of their number."""
        low, high = self.figure.ci95 or (0.0, 0.0)
        away = abs(self.size - self.edge)
        most = max(MOST_REPETITIONS, 2 * repetitions)
        longer = ((high - low) / 2) ** 2 / max(away**2, 1e-12)
        if longer * repetitions > most:
            return f"It lies at the edge of what can be heard: {most} repetitions might not tell."
        needed = max(math.ceil(longer * repetitions), repetitions + 1)
        return f"About {counted(needed, 'repetition')} would tell."

    def _evidence(self) -> Evidence:
        figure = self.figure
        return Evidence(
            self.measure, figure.value, figure.unit, figure.n, figure.ci95, self.edge, self.positions
        )


def remedy(kind: FindingKind, hand: Hand | None) -> str:
    """Return the table's remedy, its hands named."""
    return REMEDIES[kind].format(hand=NAMES[hand or "R"], other=OTHERS[hand or "R"])
