"""The exercise as arrays, for following a player through it.

Conventions: written times are float whole notes from the top of the exercise;
arrays hold the struck notes only, in order; rests are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.exercise import Exercise
from evenhand.domain.tempo import Tempo


@dataclass(frozen=True, slots=True)
class Score:
    """Struck notes of one repetition. ``starts`` shape (n_notes,), whole notes."""

    exercise: Exercise
    tempo: Tempo
    positions: NDArray[np.intp]
    starts: NDArray[np.float64]
    length: float
    accents: NDArray[np.bool_]
    graces: NDArray[np.intp]
    buzzes: NDArray[np.bool_]
    beat: float

    @classmethod
    def of(cls, exercise: Exercise, tempo: Tempo) -> Score:
        """Lay an exercise out as arrays."""
        struck = list(exercise.struck)
        notes = [exercise.notes[i] for i in struck]
        return cls(
            exercise=exercise,
            tempo=tempo,
            positions=np.array(struck, dtype=np.intp),
            starts=np.array([float(exercise.starts[i]) for i in struck]),
            length=float(exercise.length),
            accents=np.array([note.accent for note in notes]),
            graces=np.array([len(note.graces) for note in notes], dtype=np.intp),
            buzzes=np.array([note.buzz for note in notes]),
            beat=float(tempo.beat),
        )

    def __len__(self) -> int:
        return len(self.starts)

    def written(self, index: NDArray[np.intp]) -> NDArray[np.float64]:
        """Return the written time of unrolled note numbers (0 = first note of repetition 1)."""
        return (index // len(self)) * self.length + self.starts[index % len(self)]

    @property
    def shortest(self) -> float:
        """Shortest distance between two struck notes, around the repeat too, whole notes."""
        ahead = np.diff(np.append(self.starts, self.starts[0] + self.length))
        return float(ahead.min())
