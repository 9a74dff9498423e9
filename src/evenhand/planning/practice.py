"""What is assigned: exercises with stroke, tempo, repetitions and seconds, day by day.

Conventions: ``seconds`` is what an item takes: all its goes, each with its count-in, and the pauses between
them; its rest (``rest_s``, after it) is not counted. A day's ``seconds`` is all of it, rests too. A tempo is
given on the beat one feels.

How fast and how often an exercise is to be played on a day of the week, and how long that takes.

Conventions: a turn opens with its count-in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Literal, get_args

from evenhand.music.bars import count_in_length
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import StrokeClass
from evenhand.take import Remark

Block = Literal["warm-up", "focus", "review", "speed", "music", "record"]
BLOCKS: tuple[Block, ...] = get_args(Block)


@dataclass(frozen=True, slots=True)
class PracticeItem:
    """One exercise to practise: in ``goes`` goes, each ``repetitions`` times through.

    ``pause_s`` lies between two goes. ``purpose`` says to the student what it is for, ``why`` gives the
    teacher's reasons. ``block`` is None where a plan was written without blocks.
    """

    exercise: Exercise
    tempo: Tempo
    repetitions: int
    seconds: float
    stroke: StrokeClass | None = None
    rest_s: float = 0.0
    title: str = ""
    why: tuple[Remark, ...] = ()
    goes: int = 1
    pause_s: float = 0.0
    block: Block | None = None
    purpose: tuple[Remark, ...] = ()


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

    ``story`` is the week in two sentences; ``notes`` say what it covers and what it rests on.
    """

    days: tuple[PracticeDay, ...]
    student: str = ""
    starts: date | None = None
    notes: tuple[Remark, ...] = ()
    story: tuple[Remark, ...] = ()


def turn_seconds(exercise: Exercise, tempo: Tempo, repetitions: int) -> int:
    """Return how long a turn takes, its count-in too, to the next whole second."""
    whole = repetitions * exercise.length + count_in_length(exercise, tempo)
    return math.ceil(float(whole) * tempo.whole_note_s - 1e-9)
