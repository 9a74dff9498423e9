"""In which notes an exercise is written for a stage, so that its click is one that is felt and read.

A hand's rate does not say how a thing is written: singles at two notes a second are eighths on a quarter of
60, and thirty-seconds on a quarter of 15, which nobody reads or counts. What is too short or too long for the
stage's middle speed is written in notes twice as long, or half as long. The bounds are conventions of
Evenhand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from evenhand.music.beat import EIGHTH, QUARTER
from evenhand.music.equivalence import Key, canonical
from evenhand.music.exercise import Exercise, Note, bpm_of
from evenhand.music.library.tracks import LibraryExercise
from evenhand.music.writing.rates import hand_rate
from evenhand.progress.stages.path import Stage

SLOWEST_READ_BPM, FASTEST_READ_BPM = 44.0, 160.0  # of the beat, at the stage's middle speed
TWICE = Fraction(2)


def as_read(stage: Stage, exercise: Exercise) -> Exercise | None:
    """Write an exercise in notes that suit a stage's speed; None where neither it nor its double does.

    >>> from evenhand.music.text import parse_exercise, print_exercise
    >>> from evenhand.progress.stages.usual import COMMON_PATH
    >>> print_exercise(as_read(COMMON_PATH.stages[7], parse_exercise("1/16: RLRR LRLL")))
    '1/8: RLRR LRLL'
    """
    if stage.stroke is None or _suits(stage, exercise):
        return exercise
    others = (_in_other_notes(exercise, factor) for factor in (TWICE, 1 / TWICE))
    return next((other for other in others if other is not None and _suits(stage, other)), None)


def _suits(stage: Stage, exercise: Exercise) -> bool:
    """Tell whether a stage's middle is on a quarter that is felt; of eighths and longer, on an eighth."""
    slow, fast = stage.rate_per_s
    whole_s = hand_rate(exercise) / math.sqrt(slow * fast)
    shortest = min(note.value for note in exercise.notes)
    beats = (QUARTER, EIGHTH) if shortest >= EIGHTH else (QUARTER,)
    return any(SLOWEST_READ_BPM <= bpm_of(whole_s, beat) <= FASTEST_READ_BPM for beat in beats)


def _in_other_notes(exercise: Exercise, factor: Fraction) -> Exercise | None:
    """Write an exercise in notes so many times as long; None for triplets, and where bars are written."""
    if exercise.meter is not None or exercise.bar_lines:
        return None
    notes = tuple(replace(note, value=note.value * factor) for note in exercise.notes)
    return None if any(_is_odd(note.value.denominator) for note in notes) else Exercise(notes)


def _is_odd(denominator: int) -> bool:
    return denominator & (denominator - 1) != 0


def read_in(stage: Stage, exercises: Iterable[LibraryExercise]) -> Iterator[LibraryExercise]:
    """Give a stage's exercises as they are read in it, nothing twice, be it once around or often."""
    rows = [(each, read) for each in exercises if (read := as_read(stage, each.exercise)) is not None]
    seen: dict[Key | tuple[Note, ...], LibraryExercise] = {}
    for each, read in sorted(rows, key=lambda row: row[0].exercise != row[1]):  # as written goes first
        keys = (canonical(read, rotation=False, swap=False), _once(read))
        if not any(key in seen for key in keys):
            seen |= dict.fromkeys(keys, each)
    kept = {id(each) for each in seen.values()}
    return (replace(each, exercise=read) for each, read in rows if id(each) in kept)


def _once(exercise: Exercise) -> tuple[Note, ...]:
    """Return the notes that an exercise is made of again and again."""
    notes = exercise.notes
    lengths = (n for n in range(1, len(notes) + 1) if len(notes) % n == 0)
    return next(notes[:n] for n in lengths if notes[:n] * (len(notes) // n) == notes)
