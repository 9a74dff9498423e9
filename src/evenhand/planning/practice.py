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
from fractions import Fraction
from typing import Literal, get_args

from evenhand.music.bars import count_in_beats
from evenhand.music.exercise import Exercise, Tempo, note_value, on_the_click
from evenhand.music.strokes.heights import StrokeClass
from evenhand.progress.stages.path import Stage
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


UNDER_CEILING = (0.80, 0.95)  # from the first day to the last: a convention of Evenhand
WITHOUT_CEILING = 0.5  # of the stage's range by the last day, and no more than
MOST_RISE = 0.15  # of the first day's tempo: conventions of Evenhand, too
MORE_OFTEN = 0.25  # of the stage's range of repetitions, by the last day
SHORTEST_TURN_S, LONGEST_TURN_S = (
    20.0,
    180.0,
)  # turns of three minutes: Carter & Grahn 2016, Front Psychol 7:1251


@dataclass(frozen=True, slots=True)
class PracticeChoice:
    """An exercise that the week may hold.

    ``ceiling_notes`` is its ceiling in notes a minute, None where that is not known; then
    ``goes_notes`` may hold how fast it goes for sure, and what to try next.
    ``rank`` orders from easy to hard. ``worth`` is about 1; ``why`` says what for
    it is chosen.
    """

    exercise: Exercise
    title: str
    rank: int
    worth: float
    weak_share: float  # the weak hand's share of the strokes
    changes: frozenset[str]
    why: tuple[Remark, ...]
    ceiling_notes: float | None = None
    goes_notes: tuple[float, float] | None = None


def beat_for(value: Fraction) -> Fraction:
    """Return the beat that a tempo is said in: the note itself, or for triplets what they divide.

    >>> beat_for(Fraction(1, 8)), beat_for(Fraction(1, 12)), beat_for(Fraction(1, 24))
    (Fraction(1, 8), Fraction(1, 4), Fraction(1, 8))
    """
    odd = value.denominator
    while odd % 2 == 0:
        odd //= 2
    return value * odd


def notes_a_minute(stage: Stage) -> tuple[float, float]:
    """Return a stage's tempos as notes a minute: they are said of exercises in the stage's beat."""
    return stage.tempo_bpm


def tempo_for(stage: Stage, choice: PracticeChoice, through: float) -> Tempo:
    """Choose a day's tempo: ``through`` goes from 0 on the first day to 1 on the last.

    With a ceiling it rises from 80 to 95 % of it, inside the stage's range where that reaches so far down.
    Where an exercise went well as fast as it was tried, it rises from there, or from the stage's slow end,
    to what is worth trying next.
    Where it was not tried, it begins at the slow end of the stage's range and stays in its lower half.
    An exercise in other notes than the stage's has as many notes a minute.
    """
    slow, fast = notes_a_minute(stage)
    if choice.ceiling_notes is not None:
        low, high = (share * choice.ceiling_notes for share in UNDER_CEILING)
        notes = max(low + (high - low) * through, min(slow, high))
    elif choice.goes_notes is not None:
        low, high = choice.goes_notes
        notes = max(low + (high - low) * through, slow)
    else:
        notes = slow + min((fast - slow) * WITHOUT_CEILING, slow * MOST_RISE) * through
    notes = min(notes, fast)
    value = note_value(choice.exercise)
    beat = beat_for(value)
    return Tempo(beat, on_the_click(notes * float(value / beat)))


def repetitions_for(stage: Stage, exercise: Exercise, tempo: Tempo, through: float) -> int:
    """Choose how often in one go: within the stage's range, and for twenty seconds to three minutes."""
    fewest, most = stage.repetitions
    once_s = float(exercise.length) * tempo.whole_note_s
    wanted = fewest + (most - fewest) * MORE_OFTEN * through
    wanted = max(wanted, SHORTEST_TURN_S / once_s)
    longest = max(1, math.floor(LONGEST_TURN_S / once_s))
    return max(1, min(round(wanted), most, longest))


def turn_seconds(exercise: Exercise, tempo: Tempo, repetitions: int) -> int:
    """Return how long a turn takes, its count-in too, to the next whole second."""
    played_s = repetitions * float(exercise.length) * tempo.whole_note_s
    return math.ceil(played_s + count_in_beats(exercise, tempo) * tempo.beat_s - 1e-9)
