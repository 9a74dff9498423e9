"""From numbers back to exercises: many stickings written as text at once, or as exercises.

Conventions: stickings as in ``necklaces``; one note value throughout. The text is the one that
``print_exercise`` gives of each; where it puts spaces is read off one exercise printed by it.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from evenhand.craft.generating import Stickings
from evenhand.craft.text import print_exercise
from evenhand.domain.exercise import Exercise, Hand, Meter, Note

SIGNS = ("R", "L", ">R", ">L")


def texts(stickings: Stickings, value: Fraction, meter: Meter | None = None) -> list[str]:
    """Write each sticking as exercise text."""
    opening, groups = _layout(stickings.n, value, meter)
    kinds = _kinds(stickings)
    words = np.full(len(stickings), opening, dtype=object)
    at = 0
    for size in groups:
        index = np.zeros(len(stickings), dtype=np.int64)
        for column in range(at, at + size):
            index = index * 4 + kinds[:, column]
        words = words + " " + _spelled(size)[index]
        at += size
    return [str(word) for word in words]


def exercises(stickings: Stickings, value: Fraction, meter: Meter | None = None) -> list[Exercise]:
    """Make each sticking an exercise; equal notes are one and the same value."""
    hands: tuple[Hand, Hand] = ("R", "L")
    notes = [Note(hand, value, accent) for accent in (False, True) for hand in hands]
    return [Exercise(tuple(notes[kind] for kind in row), meter) for row in _kinds(stickings).tolist()]


def hands_and_accents(stickings: Stickings) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which notes are the left hand's and which are accented, both of shape (m, n)."""
    kinds = _kinds(stickings)
    return kinds % 2 == 1, kinds >= 2


def _kinds(stickings: Stickings) -> NDArray[np.int8]:
    """Return each note's place among ``SIGNS``, shape (m, n)."""
    kinds = np.zeros((len(stickings), stickings.n), dtype=np.int8)
    for column in range(stickings.n):
        bit = stickings.n - 1 - column
        kinds[:, column] = (stickings.hands >> bit) & 1
        if stickings.quiet is not None:
            kinds[:, column] += (2 * (1 - ((stickings.quiet >> bit) & 1))).astype(np.int8)
    return kinds


def _layout(n: int, value: Fraction, meter: Meter | None) -> tuple[str, list[int]]:
    """Return what stands before the notes, and how many notes stand between spaces."""
    printed = print_exercise(Exercise((Note("R", value),) * n, meter))
    opening, _, notes = printed.partition(": ")
    return f"{opening}:", [len(group) for group in notes.split(" ")]


def _spelled(size: int) -> NDArray[np.object_]:
    """Spell every group of so many notes, shape (4^size,)."""
    groups = np.array([""], dtype=object)
    for _ in range(size):
        groups = np.concatenate([group + np.array(SIGNS, dtype=object) for group in groups])
    return groups
