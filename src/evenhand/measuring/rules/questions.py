"""What the questions are asked of.

Conventions: ms and minutes; ``hands`` are the hands that the exercise writes.

A figure against what an ear can tell: plainly over it, plainly under it, or not to be told yet.

Conventions: ``edge`` is the size from which a figure is heard, in the figure's unit; a verdict's ``times`` is
the figure's size in edges.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from evenhand.measuring.pairs import double_starts
from evenhand.measuring.values import (
    Evidence,
    Finding,
    FindingKind,
    Measure,
    Measures,
    Side,
    audible_ms,
    either_way,
)
from evenhand.music.exercise import HANDS, Exercise, Hand
from evenhand.take import Heard

SECONDS_A_MINUTE = 60.0


@dataclass(frozen=True)
class TakeFigures:
    """A take, its figures, and from where on a displacement is heard in it."""

    heard: Heard
    measures: Measures
    exercise: Exercise
    audible_ms: float
    minutes: float
    hands: tuple[Hand, ...]

    def positions(self, hand: Hand) -> tuple[int, ...]:
        """Return where a hand plays."""
        return tuple(p for p in self.exercise.struck if self.exercise.notes[p].hand == hand)

    def verdict(
        self, kind: FindingKind, measure: str, figure: Measure, hand: Hand, edge: float | None = None
    ) -> Verdict:
        """Judge a hand's figure, which may lie too far off to either side; by itself, in ms."""
        edge = self.audible_ms if edge is None else edge
        side = either_way(figure, edge)
        return Verdict(kind, side, measure, figure, edge, hand, self.positions(hand))

    def seconds(self, hand: Hand) -> tuple[int, ...]:
        """Return where a hand's doubles have their second note."""
        return tuple((p + 1) % len(self.exercise.notes) for p in double_starts(self.exercise).get(hand, ()))


def figures_of(heard: Heard, measures: Measures, exercise: Exercise) -> TakeFigures:
    """Gather what the questions are asked of."""
    times = [hit.time_s for hit in heard.hits]
    minutes = (max(times) - min(times)) / SECONDS_A_MINUTE if times else 0.0
    written = {note.hand for note in exercise.notes}
    hands = tuple(hand for hand in HANDS if hand in written)
    return TakeFigures(heard, measures, exercise, audible_ms(measures.interval_ms or 0.0), minutes, hands)


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
