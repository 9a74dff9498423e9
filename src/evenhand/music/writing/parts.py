"""Parts of an exercise to practise by themselves: one hand's notes, the other lead, a few notes in a loop.

Conventions: what is made has the note values of the exercise it was made from; None is returned where there
is nothing to make, or it would be the exercise again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from evenhand.music.exercise import Exercise, Hand, Note
from evenhand.music.text import mirrored

LOOP_NOTES = (4, 6, 8)  # a loop of so many notes, the shortest that closes on the beat
BEAT = Fraction(1, 4)


def hand_alone(exercise: Exercise, hand: Hand) -> Exercise | None:
    """Return one hand's notes, the other's as rests; of over a bar, without the half it is silent in.

    A hand that would begin after a rest plays what it has where it leads, if that is as much.

    >>> from evenhand.music.text import parse_exercise, print_exercise
    >>> print_exercise(hand_alone(parse_exercise("1/8: RLRR LRLL"), "L"))
    '1/8: L-LL -L--'
    >>> print_exercise(hand_alone(parse_exercise("1/8: RR-- RR-- LL-- LL--"), "L"))
    '1/8: LL-- LL--'
    """
    if hand not in {note.hand for note in exercise.notes} or not has_both_hands(exercise):
        return None
    notes = _one_hand(exercise, hand)
    led = _one_hand(mirrored(exercise), hand)
    if notes[0].hand is None and led[0].hand is not None and _longest_run(led) >= _longest_run(notes):
        notes = led
    halves = notes[: len(notes) // 2], notes[len(notes) // 2 :]
    played = [half for half in halves if any(note.hand == hand for note in half)]
    plain = exercise.meter is None and not exercise.bar_lines and exercise.length > 1
    one = plain and len(played) == 1 and 2 * sum(note.value for note in played[0]) == exercise.length
    spelling = replace(exercise.spelling, slashed=())
    return Exercise(played[0]) if one else replace(exercise, notes=notes, spelling=spelling)


def _one_hand(exercise: Exercise, hand: Hand) -> tuple[Note, ...]:
    return tuple(
        replace(note, hand=hand, graces=(), both=False, tied=False)
        if note.both or note.hand == hand
        else Note(None, note.value, dynamic=note.dynamic, swell=note.swell)
        for note in exercise.notes
    )


def _longest_run(notes: Sequence[Note]) -> int:
    """Count the most notes without a rest between them."""
    return max(len(list(run)) for played, run in groupby(notes, key=lambda note: note.hand) if played)


def other_lead(exercise: Exercise) -> Exercise | None:
    """Return an exercise with its hands exchanged; None where one hand plays it all."""
    return mirrored(exercise) if has_both_hands(exercise) else None


def led_by(exercise: Exercise, hand: Hand) -> Exercise | None:
    """Return an exercise as one hand leads it, its hands exchanged where it is led by the other."""
    first = next((note.hand for note in exercise.notes if note.hand is not None), None)
    return None if first == hand else other_lead(exercise)


def loop_around(exercise: Exercise, positions: Sequence[int]) -> Exercise | None:
    """Return the few notes around a place as a loop of its own, two before it and one after at the least.

    >>> from evenhand.music.text import parse_exercise, print_exercise
    >>> print_exercise(loop_around(parse_exercise("1/8: RLRR LRLL RLRL RLRL"), [6]))
    '1/8: LRLL'
    """
    n = len(exercise.notes)
    if not positions or not 0 <= positions[0] < n:
        return None
    for count in LOOP_NOTES:
        if count >= n:
            return None
        notes = tuple(exercise.notes[(positions[0] - 2 + k) % n] for k in range(count))
        length = sum((note.value for note in notes), Fraction(0))
        if (length / BEAT).denominator == 1 and {note.hand for note in notes} >= {"R", "L"}:
            return Exercise(notes)
    return None


def leaned_on(exercise: Exercise, hand: Hand, *, seconds: bool = False) -> Exercise | None:
    """Return an exercise with an accent on each note of a hand, or on the second of each of its doubles.

    >>> from evenhand.music.text import parse_exercise, print_exercise
    >>> print_exercise(leaned_on(parse_exercise("1/8: RRLL"), "L", seconds=True))
    '1/8: RRL>L'
    """
    if not has_both_hands(exercise):
        return None
    notes = exercise.notes
    leaned = tuple(
        replace(
            note,
            accent=note.hand == hand and (not seconds or notes[at - 1].hand == hand),
        )
        if note.hand is not None
        else note
        for at, note in enumerate(notes)
    )
    made = replace(exercise, notes=leaned)
    return made if made.has_accents and made != exercise else None


def has_both_hands(exercise: Exercise) -> bool:
    """Tell whether both hands have notes."""
    return {"R", "L"} <= {note.hand for note in exercise.notes}
