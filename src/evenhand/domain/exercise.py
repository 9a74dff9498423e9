"""An exercise: what is written.

Conventions: note values and meters are ``Fraction`` of a whole note. A position
counts notes and rests from 0; a grace note carries its main note's position.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal

Hand = Literal["R", "L"]

MAX_NOTES = 4096


def other_hand(hand: Hand) -> Hand:
    """Return the hand that is not this one."""
    return "L" if hand == "R" else "R"


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature, such as 4/4."""

    beats: int
    unit: int

    @property
    def bar(self) -> Fraction:
        """Length of one bar, as a fraction of a whole note."""
        return Fraction(self.beats, self.unit)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Note:
    """One written blow, or a rest where ``hand`` is None."""

    hand: Hand | None
    value: Fraction
    accent: bool = False
    graces: tuple[Hand, ...] = ()
    buzz: bool = False

    @property
    def is_rest(self) -> bool:
        """Tell whether nothing is struck here."""
        return self.hand is None


@dataclass(frozen=True)
class Exercise:
    """A written sticking exercise that is repeated.

    ``bar_lines`` holds the positions before which a bar line was written
    (``len(notes)`` for one written at the end).
    """

    notes: tuple[Note, ...]
    meter: Meter | None = None
    bar_lines: tuple[int, ...] = ()

    @cached_property
    def starts(self) -> tuple[Fraction, ...]:
        """Where each note begins, as a fraction of a whole note from the top."""
        at = Fraction(0)
        out = []
        for note in self.notes:
            out.append(at)
            at += note.value
        return tuple(out)

    @cached_property
    def length(self) -> Fraction:
        """Length of one repetition, as a fraction of a whole note."""
        return sum((note.value for note in self.notes), Fraction(0))

    @cached_property
    def struck(self) -> tuple[int, ...]:
        """Positions that are notes and not rests."""
        return tuple(i for i, note in enumerate(self.notes) if not note.is_rest)

    @property
    def has_accents(self) -> bool:
        """Tell whether any note is accented."""
        return any(note.accent for note in self.notes)

    @property
    def has_graces(self) -> bool:
        """Tell whether any note is a flam or a drag."""
        return any(note.graces for note in self.notes)


def note_value(exercise: Exercise) -> Fraction:
    """Return the value of most of an exercise's notes; the shorter of two that are as many.

    >>> note_value(
    ...     Exercise((Note("R", Fraction(1, 8)), Note("L", Fraction(1, 8)), Note("R", Fraction(1, 4))))
    ... )
    Fraction(1, 8)
    """
    counts = Counter(note.value for note in exercise.notes if not note.is_rest)
    return max(counts, key=lambda value: (counts[value], -value))
