"""How fast and how often an exercise is to be played on a day of the week, and how long that takes.

Conventions: tempos are beats a minute of the stage's beat. A turn opens with a count-in of
four beats.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenhand.domain.exercise import Exercise
from evenhand.domain.path import Stage
from evenhand.domain.tempo import Tempo, on_the_click

COUNT_IN_BEATS = 4
UNDER_CEILING = (0.80, 0.95)  # from the first day to the last: a convention of Evenhand
WITHOUT_CEILING = 0.5  # of the stage's range, by the last day
SHORTEST_TURN_S, LONGEST_TURN_S = (
    20.0,
    180.0,
)  # turns of three minutes: Carter & Grahn 2016, Front Psychol 7:1251


@dataclass(frozen=True, slots=True)
class Choice:
    """An exercise that the week may hold.

    ``ceiling_bpm`` is in the stage's beat, None where it is not known. ``rank`` orders
    from easy to hard. ``worth`` is about 1; ``why`` says in a clause why it is chosen.
    """

    exercise: Exercise
    title: str
    rank: int
    worth: float
    weak_share: float  # the weak hand's share of the strokes
    changes: frozenset[str]
    why: str
    ceiling_bpm: float | None = None


def tempo_for(stage: Stage, ceiling_bpm: float | None, through: float) -> Tempo:
    """Choose a day's tempo: ``through`` goes from 0 on the first day to 1 on the last.

    With a ceiling it rises from 80 to 95 % of it, inside the stage's range where that reaches so far down;
    without one it begins at the slow end of the stage's range and stays in its lower half.
    """
    slow, fast = stage.tempo_bpm
    if ceiling_bpm is None:
        return Tempo(stage.beat, on_the_click(slow + (fast - slow) * WITHOUT_CEILING * through))
    low, high = (share * ceiling_bpm for share in UNDER_CEILING)
    bpm = low + (high - low) * through
    floor = min(slow, high)
    return Tempo(stage.beat, on_the_click(min(max(bpm, floor), fast)))


def repetitions_for(stage: Stage, exercise: Exercise, tempo: Tempo, through: float) -> int:
    """Choose how often in one go: within the stage's range, and for twenty seconds to three minutes."""
    fewest, most = stage.repetitions
    once_s = float(exercise.length) * tempo.whole_note_s
    wanted = fewest + (most - fewest) * 0.5 * through
    wanted = max(wanted, SHORTEST_TURN_S / once_s)
    longest = max(1, math.floor(LONGEST_TURN_S / once_s))
    return max(1, min(round(wanted), most, longest))


def turn_seconds(exercise: Exercise, tempo: Tempo, repetitions: int) -> int:
    """Return how long a turn takes, its count-in too, to the next whole second."""
    played_s = repetitions * float(exercise.length) * tempo.whole_note_s
    return math.ceil(played_s + COUNT_IN_BEATS * tempo.beat_s - 1e-9)
