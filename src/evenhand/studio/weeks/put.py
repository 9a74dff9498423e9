"""An exercise put into a student's week, at the tempo of where the student stands with it.

Conventions: the tempo is the one that a planned week would begin with (``planning.standing``); a go lasts
about a minute. What is put in stands at the end of every day, to be changed there like any other row.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import print_exercise
from evenhand.music.writing.rates import hand_rate
from evenhand.planning.standing import exercise_standing, speeds_for, tempo_within
from evenhand.progress.history import History
from evenhand.progress.stages.path import Stage
from evenhand.report.words.remarks import why_words
from evenhand.studio.weeks.typed import MOST_REPETITIONS, NEW_REST_S, TypedRow, TypedWeek, changed

A_GO_S = 60.0


@dataclass(frozen=True, slots=True)
class PutExercise:
    """What is put into a week: an exercise with its title, at which tempo and stroke, and why so fast."""

    exercise: Exercise
    title: str
    tempo: Tempo
    stroke: str
    why: str


def exercise_for(exercise: Exercise, title: str, stage: Stage, history: History) -> PutExercise:
    """Say how a student begins an exercise, from all that was heard of it.

    Raises
    ------
    WrongOptions
        Where no hand plays in it, so that nothing says how fast.
    """
    if not hand_rate(exercise):
        raise WrongOptions(got="an exercise for the feet alone", must_be="one with strokes of a hand")
    standing = exercise_standing(exercise, history.takes, stroke=stage.stroke)
    from_s, _, why = speeds_for(stage, standing)
    tempo, outside = tempo_within(stage, exercise, from_s)
    return PutExercise(exercise, title, tempo, stage.stroke or "", why_words((outside or why,)))


def with_exercise(week: TypedWeek, put: PutExercise) -> TypedWeek:
    """Put an exercise at the end of every day; a week that has it stays as it is.

    >>> from evenhand.music.text import parse_exercise
    >>> put = PutExercise(parse_exercise("1/8: RLRR"), "Mine", Tempo.parse("1/4 = 60"), "tap", "New.")
    >>> [(row.day, row.repetitions) for row in with_exercise(TypedWeek((), 2), put).rows]
    [(1, '30'), (2, '30')]
    """
    text = print_exercise(put.exercise)
    after = changed(week, f"put:{put.tempo};{text}")
    if after is week:
        return week
    once_s = float(put.exercise.length) * put.tempo.whole_note_s
    times = str(max(1, min(MOST_REPETITIONS, round(A_GO_S / once_s))))
    return replace(
        after, rows=tuple(_told(row, put, times) if row.exercise == text else row for row in after.rows)
    )


def _told(row: TypedRow, put: PutExercise, times: str) -> TypedRow:
    """Say of a new row how often, how high and why; what it took over from the row before goes."""
    plain = replace(row, goes="1", pause="0", rest=NEW_REST_S, block="", stroke=put.stroke)
    return replace(plain, repetitions=times, title=put.title, was=row.exercise, why=put.why)
