"""How loud each note is meant against the others: dynamics, swells, accents and ghost notes.

Conventions: levels are dB re the loudest dynamic of the exercise, or re *f* where it goes no higher; 0 where
none is written. One dynamic to the next is 4 dB here, from memory of measured playing; no standard says so.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from evenhand.music.exercise import DYNAMICS, Dynamic, Exercise

STEP_DB = 4.0
BEFORE_ANY: Dynamic = "mf"  # where a dynamic comes later than the first note


def dynamics_db(exercise: Exercise) -> tuple[float, ...]:
    """Return each position's level by the dynamics and swells alone; all 0 where none are written.

    A swell goes evenly, in dB over written time, to the next dynamic; to the next step where none follows.

    >>> from evenhand.music.text import parse_exercise
    >>> dynamics_db(parse_exercise("1/8: p cresc RLRL f R mf L"))
    (-12.0, -9.0, -6.0, -3.0, 0.0, -4.0)
    """
    notes = exercise.notes
    if not _is_marked(exercise):
        return (0.0,) * len(notes)
    loudest = max([_steps(note.dynamic) for note in notes if note.dynamic], default=0)
    holds, out = _steps(BEFORE_ANY), [0.0] * len(notes)
    swelling: _Swelling | None = None
    for at, note in enumerate(notes):
        if note.dynamic:
            holds, swelling = _steps(note.dynamic), None
        if note.swell:
            begun = swelling.step_at(exercise.starts[at]) if swelling else float(holds)
            swelling = _swelling_from(exercise, at, begun)
        out[at] = STEP_DB * (swelling.step_at(exercise.starts[at]) if swelling else holds)
    return tuple(level - STEP_DB * max(loudest, 0) for level in out)


def _is_marked(exercise: Exercise) -> bool:
    return any(note.dynamic or note.swell for note in exercise.notes)


def _steps(dynamic: Dynamic) -> int:
    """Count the steps over f."""
    return DYNAMICS.index(dynamic) - DYNAMICS.index("f")


def swell_stop(exercise: Exercise, start: int) -> int:
    """Return the position at which a swell has come to its end: the next mark's, or behind the last note."""
    notes = exercise.notes
    marked = (at for at in range(start + 1, len(notes)) if notes[at].dynamic or notes[at].swell)
    return next(marked, len(notes))


@dataclass(frozen=True, slots=True)
class _Swelling:
    """A swell that goes on: since when and until when, in whole notes, and from which step to which."""

    since: Fraction
    until: Fraction
    begun: float
    goal: float

    def step_at(self, time: Fraction) -> float:
        """Return the step that it has reached."""
        share = (time - self.since) / (self.until - self.since)
        return self.begun + (self.goal - self.begun) * float(min(share, Fraction(1)))


def _swelling_from(exercise: Exercise, start: int, begun: float) -> _Swelling:
    """Return the swell that begins at a position, from the step that was reached there."""
    stop, since = swell_stop(exercise, start), exercise.starts[start]
    if stop == len(exercise.notes):
        until, dynamic = exercise.length, None
    else:
        until, dynamic = exercise.starts[stop], exercise.notes[stop].dynamic
    grows = exercise.notes[start].swell == "cresc"
    goal = float(_steps(dynamic)) if dynamic else begun + (1 if grows else -1)
    return _Swelling(since, until, begun, goal)


def plain_positions(exercise: Exercise) -> frozenset[int]:
    """Return the struck notes that are meant equally loud: the largest group without accent and ghost."""
    levels = dynamics_db(exercise)
    notes = [at for at in exercise.struck if not exercise.notes[at].accent and not exercise.notes[at].ghost]
    if not notes:
        return frozenset()
    usual, _ = max(Counter(levels[at] for at in notes).items(), key=lambda each: (each[1], each[0]))
    return frozenset(at for at in notes if levels[at] == usual)


def loud_positions(exercise: Exercise) -> frozenset[int]:
    """Return the notes that stand out by their level: accents, else all but the ghosts; none by dynamics."""
    if len(set(dynamics_db(exercise))) > 1:
        return frozenset()
    notes = exercise.notes
    if exercise.has_accents:
        return frozenset(at for at in exercise.struck if notes[at].accent)
    ghosts = any(note.ghost for note in notes)
    return frozenset(at for at in exercise.struck if ghosts and not notes[at].ghost)
