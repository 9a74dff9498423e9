"""The hand changes of an exercise: which hands follow each other, a few notes at a time.

Conventions: a hand change of length k is the hands of k struck notes in a row, such as RLL, taken around the
repeat: an exercise of n notes holds n of them, some of them twice. An exercise shorter than k is gone round
as often as it takes. A rest breaks it: over a rest there is time to think. Values, accents and ornaments
don't count.
"""

from __future__ import annotations

from collections import Counter

from evenhand.domain.exercise import Exercise
from evenhand.errors import WrongOptions

SHORTEST, LONGEST = 2, 16


def hand_changes(exercise: Exercise, k: int) -> Counter[str]:
    """Count an exercise's hand changes of k notes, once around.

    >>> from fractions import Fraction
    >>> from evenhand.domain.exercise import Note
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
    >>> from evenhand.domain.exercise import Note
    >>> hand_changes_at(Exercise(tuple(Note(h, Fraction(1, 8)) for h in "RLRR")), 0, 2, 1)
    'RRRL'
    """
    notes = exercise.notes
    if not 0 <= position < len(notes):
        return None
    around = range(position - before, position + after + 1)
    window = "".join(notes[at % len(notes)].hand or "-" for at in around)
    return None if "-" in window else window
