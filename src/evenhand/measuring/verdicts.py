"""A figure against what an ear can tell: plainly over it, plainly under it, or not to be told yet.

Conventions: ``edge`` is the size from which a figure is heard, in the figure's unit; a verdict's ``times`` is
the figure's size in edges.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.domain.audible import Side
from evenhand.domain.exercise import Hand
from evenhand.domain.findings import Evidence, Finding, FindingKind
from evenhand.domain.measures import Measure

MOST_REPETITIONS = 100  # a longer take than this is not asked for


@dataclass(frozen=True, slots=True)
class Verdict:
    """One question asked of a take.

    ``figures`` are what is said beside ``figure``. Where small is wrong (``small_is_wrong``), over means
    under: too flat, too little.
    """

    kind: FindingKind
    side: Side
    measure: str
    figure: Measure
    edge: float
    hand: Hand | None = None
    positions: tuple[int, ...] = ()
    centre: float = 0.0
    small_is_wrong: bool = False
    figures: Mapping[str, Measure] = field(default_factory=dict)

    @property
    def size(self) -> float:
        """Return the figure's size, in its unit."""
        return abs((self.figure.value or 0.0) - self.centre)

    @property
    def times(self) -> float:
        """Return how far the figure is beyond its edge, as a ratio."""
        return self.edge / max(self.size, 1e-9) if self.small_is_wrong else self.size / self.edge

    def finding(self) -> Finding:
        """Return the finding where the figure is over its edge."""
        return Finding(self.kind, self._evidence(), figures=self.figures)

    def cannot_tell(self, repetitions: int) -> Finding:
        """Return the finding where the figure is open, with how many repetitions would tell."""
        would_tell = {"repetitions": self._would_tell(repetitions)}
        return Finding("cannot_tell", self._evidence(), self.kind, {**self.figures, **would_tell})

    def _would_tell(self, repetitions: int) -> Measure:
        """Return how many repetitions would tell; intervals shrink with the root of their number.

        Where it lies at the edge, not even as many as ``needs`` might tell, and there is no value.
        """
        low, high = self.figure.ci95 or (0.0, 0.0)
        away = abs(self.size - self.edge)
        most = max(MOST_REPETITIONS, 2 * repetitions)
        longer = ((high - low) / 2) ** 2 / max(away**2, 1e-12)
        if longer * repetitions > most:
            return Measure(None, repetitions, "repetitions", needs=most)
        needed = max(math.ceil(longer * repetitions), repetitions + 1)
        return Measure(needed, repetitions, "repetitions")

    def _evidence(self) -> Evidence:
        figure = self.figure
        return Evidence(
            self.measure, figure.value, figure.unit, figure.n, figure.ci95, self.edge, self.positions
        )
