"""The exercise as arrays, for aligning a take with it; and the smooth tempo of what was played.

Conventions: written times are float whole notes from the top of the exercise, times seconds; arrays hold the
struck notes only, in order. The smooth tempo is a local straight line of time over written time: tricube
weights (Cleveland 1979), 16 notes to either side, both hands together, each unbroken stretch for itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Bools, Floats, Indices
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.loudness import loud_positions


@dataclass(frozen=True, slots=True)
class Score:
    """Struck notes of one repetition. ``starts`` shape (n_notes,), whole notes.

    ``accents`` stand out by their level (where there are ghost notes alone: all others).
    Both hands at once are one note, for they are heard as one hit.
    """

    exercise: Exercise
    tempo: Tempo
    positions: Indices
    starts: Floats
    length: float
    accents: Bools
    ghosts: Bools
    graces: Indices
    buzzes: Bools
    beat: float

    @classmethod
    def of(cls, exercise: Exercise, tempo: Tempo) -> Score:
        """Lay an exercise out as arrays."""
        struck = list(exercise.struck)
        notes = [exercise.notes[i] for i in struck]
        loud = loud_positions(exercise)
        return cls(
            exercise=exercise,
            tempo=tempo,
            positions=np.array(struck, dtype=np.intp),
            starts=np.array([float(exercise.starts[i]) for i in struck]),
            length=float(exercise.length),
            accents=np.array([i in loud for i in struck]),
            ghosts=np.array([note.ghost for note in notes]),
            graces=np.array([len(note.graces) for note in notes], dtype=np.intp),
            buzzes=np.array([note.buzz for note in notes]),
            beat=float(tempo.beat),
        )

    def __len__(self) -> int:
        return len(self.starts)

    def written(self, index: Indices) -> Floats:
        """Return the written time of unrolled note numbers (0: first of repetition 1), shape (n,) both."""
        return (index // len(self)) * self.length + self.starts[index % len(self)]

    def place_of(self, number: int) -> tuple[int, int]:
        """Return the repetition, from 1, and the position of an unrolled note number."""
        repetition, index = divmod(number, len(self))
        return repetition + 1, int(self.positions[index])

    @property
    def steps(self) -> Floats:
        """From each struck note to the next, around the repeat too.

        Returns
        -------
        shape (n_notes,), whole notes
        """
        return np.diff(self.starts, append=self.starts[0] + self.length)

    @property
    def shortest(self) -> float:
        """The shortest of these."""
        return float(self.steps.min())


REACH = 16  # notes to either side


def smooth_times(
    times_s: Floats, written: Floats, numbers: Indices, stretches: Indices, weights: Floats | None = None
) -> Floats:
    """Return where the smooth tempo puts each hit, in seconds.

    Parameters
    ----------
    times_s, written, numbers, stretches : shape (n_hits,): seconds, whole notes, unrolled note numbers, and
        stretches of playing, in order of time
    weights : shape (n_hits,), how far to trust each hit; all alike where left out

    Returns
    -------
    shape (n_hits,), seconds
    """
    trust = np.ones(len(times_s)) if weights is None else weights
    return _local_lines(times_s, written, numbers, stretches, trust)


def smooth_at(  # noqa: PLR0917  # where and when, then the hits: four arrays of one shape
    number: Indices,
    at_written: Floats,
    stretch: int,
    times_s: Floats,
    written: Floats,
    numbers: Indices,
    stretches: Indices,
) -> Floats:
    """Return where the smooth tempo of a stretch would put other notes (missed ones).

    Parameters
    ----------
    number, at_written : shape (n_notes,), the notes asked for
    stretch : the stretch of playing that they lie in
    times_s, written, numbers, stretches : shape (n_hits,), as for ``smooth_times``

    Returns
    -------
    shape (n_notes,), seconds
    """
    inside = stretches == stretch
    t, w, k = times_s[inside], written[inside], numbers[inside]
    far = np.abs(number[:, None] - k[None, :])
    nearest = np.sort(far, axis=1)[:, min(4, len(k) - 1)]
    weight = np.clip(1 - (far / np.maximum(REACH + 1, nearest + 1)[:, None]) ** 3, 0, None) ** 3 + 1e-9
    total = weight.sum(axis=1)
    mean_w, mean_t = (weight @ w) / total, (weight @ t) / total
    apart = w[None, :] - mean_w[:, None]
    slope = (weight * apart * (t[None, :] - mean_t[:, None])).sum(axis=1) / np.maximum(
        (weight * apart**2).sum(axis=1), 1e-12
    )
    return np.asarray(mean_t + slope * (at_written - mean_w))


def _local_lines(
    times_s: Floats, written: Floats, numbers: Indices, stretches: Indices, trust: Floats
) -> Floats:
    """Fit a line around each hit; return its height there.

    Sums run over the offsets between hits, so the work is 33 passes over arrays.
    """
    n = len(times_s)
    sums = np.zeros((5, n))
    for offset in range(-REACH, REACH + 1):
        here = slice(max(0, -offset), n - max(0, offset))
        there = slice(max(0, offset), n - max(0, -offset))
        if here.start >= n or there.start >= n:
            continue
        far = np.abs(numbers[there] - numbers[here]) / (REACH + 1)
        near = (far < 1) & (stretches[there] == stretches[here])
        weight = np.where(near, (1 - np.minimum(far, 1) ** 3) ** 3, 0) * trust[there]
        x, y = written[there] - written[here], times_s[there] - times_s[here]
        for total, part in zip(sums, (np.ones_like(x), x, y, x * x, x * y), strict=True):
            total[here] += weight * part
    total, sx, sy, sxx, sxy = sums
    bottom = total * sxx - sx**2
    flat = bottom <= 1e-12 * np.maximum(total * sxx, 1e-30)
    slope = np.where(flat, 0, (total * sxy - sx * sy) / np.where(flat, 1, bottom))
    height = (sy - slope * sx) / np.maximum(total, 1e-12)
    return np.asarray(times_s + height)
