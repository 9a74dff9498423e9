"""What is assigned: exercises with stroke, tempo, repetitions and seconds, day by day.

Conventions: ``seconds`` is what an item takes, its rest (``rest_s``, after it) not
counted; a day's ``seconds`` is all of it, rests too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from evenhand.domain.exercise import Exercise
from evenhand.domain.stroke import StrokeClass
from evenhand.domain.tempo import Tempo


@dataclass(frozen=True, slots=True)
class PracticeItem:
    """One exercise to practise: in one go, ``repetitions`` times."""

    exercise: Exercise
    tempo: Tempo
    repetitions: int
    seconds: float
    stroke: StrokeClass | None = None
    rest_s: float = 0.0
    title: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class PracticeDay:
    """One day's items in their order."""

    items: tuple[PracticeItem, ...]

    @property
    def seconds(self) -> float:
        """Seconds of the whole day, rests too."""
        return sum(item.seconds + item.rest_s for item in self.items)


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """A week's days; for whom and from when, where that is known.

    ``notes`` are sentences about the whole week: what it covers, what it rests on.
    """

    days: tuple[PracticeDay, ...]
    student: str = ""
    starts: date | None = None
    notes: tuple[str, ...] = ()
