"""The blows of an exercise, each with the same hand's next one, around the repeat.

Conventions: blows stand in the order they sound, a note's graces before it; written time is a fraction
of a whole note from the top. A grace has no written time of its own: it stands at its note's, and sounds
``GRACE_LEAD_S`` ahead of what follows it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from evenhand.domain.exercise import Exercise, Hand, Note

GRACE_LEAD_S = 0.030  # 20 to 35 ms is what players say of flams; no published figure was found


@dataclass(frozen=True, slots=True)
class Blow:
    """One blow. ``grace`` counts a note's graces from 0; ``ahead`` is how many blows it leads its note by."""

    position: int
    hand: Hand
    start: Fraction
    accent: bool = False
    buzz: bool = False
    grace: int | None = None
    ahead: int = 0


@dataclass(frozen=True, slots=True)
class Step:
    """A hand's way from one blow to its next; ``own_interval`` is written time."""

    blow: Blow
    next: Blow
    own_interval: Fraction
    adjacent: bool  # no blow of the other hand lies between
    to: int  # the next blow's place among all

    def seconds(self, whole_note_s: float) -> float:
        """Return the time between the two blows, graces ahead of their notes; never under 0."""
        return max(0.0, float(self.own_interval) * whole_note_s + self._lead_s)

    def bpm_at(self, seconds: float, beat: Fraction) -> float:
        """Return the beats a minute at which the way takes so long; infinite where none is that quick."""
        left_s = seconds - self._lead_s
        return 60.0 * float(self.own_interval / beat) / left_s if left_s > 0 else math.inf

    @property
    def _lead_s(self) -> float:
        """How much longer the way is than written: from a grace longer, to a grace shorter."""
        return GRACE_LEAD_S * (self.blow.ahead - self.next.ahead)


def blows_of(exercise: Exercise) -> tuple[Blow, ...]:
    """List the blows of one time through."""
    out: list[Blow] = []
    for position, (note, start) in enumerate(zip(exercise.notes, exercise.starts, strict=True)):
        out.extend(_blows_at(position, note, start))
    return tuple(out)


def _blows_at(position: int, note: Note, start: Fraction) -> list[Blow]:
    if note.hand is None:
        return []
    last = len(note.graces)
    graces = [
        Blow(position, hand, start, grace=index, ahead=last - index) for index, hand in enumerate(note.graces)
    ]
    return [*graces, Blow(position, note.hand, start, note.accent, note.buzz)]


def steps_of(exercise: Exercise) -> tuple[Step, ...]:
    """Pair every blow with the same hand's next one; the last ones' are after the repeat sign."""
    blows = blows_of(exercise)
    following = _next_of_hand([blow.hand for blow in blows])
    out = []
    for index, (blow, then) in enumerate(zip(blows, following, strict=True)):
        after = blows[then % len(blows)]
        around = exercise.length if then >= len(blows) else Fraction(0)
        out.append(Step(blow, after, after.start - blow.start + around, then == index + 1, then % len(blows)))
    return tuple(out)


def _next_of_hand(hands: list[Hand]) -> list[int]:
    """Return the index of each hand's next blow, counted on past the end where it is after the repeat."""
    out = [0] * len(hands)
    coming: dict[Hand, int] = {}
    for index in range(2 * len(hands) - 1, -1, -1):
        hand = hands[index % len(hands)]
        if index < len(hands):
            out[index] = coming[hand]
        coming[hand] = index
    return out
