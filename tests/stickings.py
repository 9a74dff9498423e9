"""Generated stickings as exercises, and what one exercise asks of the hands."""

from __future__ import annotations

from fractions import Fraction

from evenhand.music.exercise import Exercise, Hand, Meter, Note, Tempo
from evenhand.music.writing.difficulty import Difficulty, difficulties
from evenhand.music.writing.generation import Stickings, kinds_of


def exercises(stickings: Stickings, value: Fraction, meter: Meter | None = None) -> list[Exercise]:
    """Make each sticking an exercise."""
    hands: tuple[Hand, Hand] = ("R", "L")
    notes = [Note(hand, value, accent) for accent in (False, True) for hand in hands]
    return [Exercise(tuple(notes[kind] for kind in row), meter) for row in kinds_of(stickings).tolist()]


def difficulty(exercise: Exercise, tempo: Tempo, weak_hand: Hand = "L") -> Difficulty:
    """Say what an exercise asks of the hands at a tempo."""
    return difficulties([exercise], tempo, weak_hand)[0]
