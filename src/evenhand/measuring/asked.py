"""What the questions are asked of.

Conventions: ms and minutes; ``hands`` are the hands that the exercise writes.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.domain.audible import audible_ms
from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.heard import Heard
from evenhand.domain.measures import Measures
from evenhand.measuring.doubles import double_starts

SECONDS_A_MINUTE = 60.0


@dataclass(frozen=True)
class Asked:
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

    def seconds(self, hand: Hand) -> tuple[int, ...]:
        """Return where a hand's doubles have their second note."""
        return tuple((p + 1) % len(self.exercise.notes) for p in double_starts(self.exercise).get(hand, ()))


def asked_of(heard: Heard, measures: Measures, exercise: Exercise) -> Asked:
    """Gather what the questions are asked of."""
    times = [hit.time_s for hit in heard.hits]
    minutes = (max(times) - min(times)) / SECONDS_A_MINUTE if times else 0.0
    both: tuple[Hand, Hand] = ("R", "L")
    written = {note.hand for note in exercise.notes}
    hands = tuple(hand for hand in both if hand in written)
    return Asked(heard, measures, exercise, audible_ms(measures.interval_ms or 0.0), minutes, hands)
