"""How hard exercises are at a tempo, in figures of what the hands have to do each second.

Conventions: the components (``demands``) are weighed and added to one ``load``, by which exercises stand in
order. It says nothing of a player.

Put exercises in order, easy to hard, and say of each in words why it stands where it stands.

Conventions: rates are times a second, said to one digit. What is said is the component (``difficulty``) that
weighs most in the step from the one before.

The hand changes of an exercise: which hands follow each other, a few notes at a time.

Conventions: a hand change of length k is the hands of k struck notes in a row, such as RLL, taken around the
repeat: an exercise of n notes holds n of them, some of them twice. An exercise shorter than k is gone round
as often as it takes. A rest breaks it: over a rest there is time to think. Values, accents and ornaments
don't count.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np

from evenhand.errors import WrongOptions
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo
from evenhand.music.writing.demands import WEAK_HAND_FACTOR, WEIGHTS, Batch, Bools, Demands, demands_of


@dataclass(frozen=True, slots=True)
class Difficulty:
    """What one exercise asks for at a tempo.

    ``hand`` is the one that has more to do, ``hand_rate`` its strokes a second at its fastest
    (``writing.rates``; graces count). ``run_hand`` plays ``run_notes`` in a row at ``run_rate`` strokes a
    second, the run that asks for most (1 where no hand has two in a row; more than ``LONGEST_RUN`` count as
    one more). ``stretch_notes`` are the fastest notes without a pause, up to ``LONGEST_STRETCH``, so many
    a second (``note_rate``). The rest is
    times a second: a hand's height changes (accent to tap or back), graces and buzzes, changes of the runs'
    length, hand changes of six notes that are not in singles, doubles or paradiddles, and changes of the note
    value. ``leads`` says whether the weaker hand leads throughout. ``weighed`` are the components, weighed;
    ``load`` is their sum.
    """

    hand: Hand
    hand_rate: float
    run_hand: Hand
    run_notes: int
    run_rate: float
    stretch_notes: int
    note_rate: float
    height_changes: float
    ornaments: float
    run_changes: float
    unfamiliar: float
    value_changes: float
    leads: bool
    weighed: tuple[float, ...]

    @property
    def load(self) -> float:
        """What exercises are put in order by; no measure of a player."""
        return sum(self.weighed)

    @property
    def hardness(self) -> float:
        """What is asked for each of the fastest notes: the same at every tempo."""
        return self.load / self.note_rate


def difficulties(exercises: Sequence[Exercise], tempo: Tempo, weak_hand: Hand = "L") -> list[Difficulty]:
    """Say what exercises ask of the hands at a tempo, in their order."""
    alike: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for place, exercise in enumerate(exercises):
        alike[_in_time(exercise)].append(place)
    found: dict[int, Difficulty] = {}
    for places in alike.values():
        demands = demands_of(_batch([exercises[place] for place in places], tempo), weak_hand)
        found.update(zip(places, rows_of(demands, weak_hand), strict=True))
    return [found[place] for place in range(len(exercises))]


@lru_cache(maxsize=4096)
def hardness(exercise: Exercise) -> float:
    """Return what an exercise asks for each of its fastest notes: the same at every tempo."""
    if not exercise.struck:
        return 0.0
    (found,) = difficulties([exercise], Tempo(Fraction(1, 4), 60.0))
    return found.hardness


def _in_time(exercise: Exercise) -> tuple[object, ...]:
    """Return what two exercises share if they are alike in time (whole numbers: quicker than fractions)."""
    return tuple([(note.value.as_integer_ratio(), note.hand is None) for note in exercise.notes])


def _batch(exercises: Sequence[Exercise], tempo: Tempo) -> Batch:
    """Put exercises alike in time into arrays."""
    first = exercises[0]
    struck = [[exercise.notes[p] for p in first.struck] for exercise in exercises]
    starts = np.array([float(first.starts[p]) for p in first.struck]) * tempo.whole_note_s
    return Batch(
        is_left=np.array([[note.hand == "L" for note in notes] for notes in struck]),
        accented=np.array([[note.accent for note in notes] for notes in struck]),
        ornaments=np.array([sum(len(note.graces) + note.buzz for note in notes) for notes in struck]),
        starts_s=starts,
        length_s=float(first.length) * tempo.whole_note_s,
        graced=_graced(exercises, first.struck),
    )


def _graced(exercises: Sequence[Exercise], struck: Sequence[int]) -> Bools | None:
    """Say before which notes each hand has graces, shape (2, m, n); None where there are none at all."""
    if not any(exercise.has_graces for exercise in exercises):
        return None
    return np.array(
        [[[hand in exercise.notes[at].graces for at in struck] for exercise in exercises] for hand in HANDS]
    )


def rows_of(demands: Demands, weak_hand: Hand = "L") -> list[Difficulty]:
    """Take the exercises of a batch one by one."""
    factors = (1.0, WEAK_HAND_FACTOR) if weak_hand == "L" else (WEAK_HAND_FACTOR, 1.0)
    busier = np.argmax(demands.hand_rates * factors, axis=1)
    columns = (
        busier,
        demands.hand_rates[np.arange(busier.size), busier],
        demands.run_hand,
        demands.run_notes,
        demands.run_rate,
        *demands.parts.T[3:8],
        demands.parts[:, 8] > 0,
        demands.parts * WEIGHTS,
    )
    return [_row(row, demands) for row in zip(*(column.tolist() for column in columns), strict=True)]


def _row(row: tuple[Any, ...], demands: Demands) -> Difficulty:
    """Put one exercise's columns together."""
    hand, rate, run_hand, notes, run_rate, heights, graces, mixed, new, values, leads, load = row
    return Difficulty(
        hand=HANDS[hand],
        hand_rate=rate,
        run_hand=HANDS[run_hand],
        run_notes=notes,
        run_rate=run_rate,
        stretch_notes=demands.stretch_notes,
        note_rate=demands.note_rate,
        height_changes=heights,
        ornaments=graces,
        run_changes=mixed,
        unfamiliar=new,
        value_changes=values,
        leads=leads,
        weighed=tuple(load),
    )


SAME_LOAD = 1e-9  # loads closer than this are one and the same


def easy_to_hard(difficulties: Sequence[Difficulty]) -> list[int]:
    """Return the places of exercises from easy to hard; those alike stay as they stood."""
    return sorted(range(len(difficulties)), key=lambda place: round(difficulties[place].load, 6))


SHORTEST, LONGEST = 2, 16


def hand_changes(exercise: Exercise, k: int) -> Counter[str]:
    """Count an exercise's hand changes of k notes, once around.

    >>> from fractions import Fraction
    >>> from evenhand.music.exercise import Note
    >>> sorted(hand_changes(Exercise(tuple(Note(h, Fraction(1, 8)) for h in "RLL")), 2).items())
    [('LL', 1), ('LR', 1), ('RL', 1)]
    """
    if not SHORTEST <= k <= LONGEST:
        raise WrongOptions(got=f"hand changes of {k} notes", must_be=f"{SHORTEST} to {LONGEST} notes")
    hands = "".join(note.hand or "-" for note in exercise.notes)
    round_and_round = hands * (1 + -(-(k - 1) // len(hands)))
    found = Counter(round_and_round[at : at + k] for at in range(len(hands)))
    for broken in [window for window in found if "-" in window]:
        del found[broken]
    return found


def hand_changes_at(exercise: Exercise, position: int, before: int, after: int) -> str | None:
    """Return the hand change around one note, or None where a rest breaks it or the note is none.

    >>> from fractions import Fraction
    >>> from evenhand.music.exercise import Note
    >>> hand_changes_at(Exercise(tuple(Note(h, Fraction(1, 8)) for h in "RLRR")), 0, 2, 1)
    'RRRL'
    """
    notes = exercise.notes
    if not 0 <= position < len(notes):
        return None
    around = range(position - before, position + after + 1)
    window = "".join(notes[at % len(notes)].hand or "-" for at in around)
    return None if "-" in window else window
