"""What stands on the hands of an exercise: accents, ornaments, rolls, and which hand leads.

Conventions: features are named by short texts, each once, taken around the repeat. A hand's accents are its
steps from high or low to high or low; an ornament goes with its note's hand, and with whether the hand that
plays the grace has just played; a roll with its strokes and the hand that begins it; the lead is a hand's
where the repeat does not go to the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from evenhand.music.exercise import HANDS, Exercise, Hand, other_hand
from evenhand.music.library.letters import goes_to_the_other_hand

Feature = Literal["accents", "ornaments", "rolls", "lead"]
FEATURES: tuple[Feature, ...] = ("accents", "ornaments", "rolls", "lead")
FEWEST_DOUBLES = 2  # of a roll
ORNAMENTS: Mapping[int, str] = {1: "flam", 2: "drag"}  # by their graces; more are drags, too


def held(exercise: Exercise, feature: Feature) -> frozenset[str]:
    """Name what an exercise holds of a feature.

    >>> from evenhand.music.text import parse_exercise
    >>> sorted(held(parse_exercise("1/16: >RLRL"), "accents"))
    ['L low to low', 'R high to low', 'R low to high']
    >>> sorted(held(parse_exercise("1/32: RRLL 1/8: >R 1/32: LLRR 1/8: >L"), "rolls"))
    ['5 from L', '5 from R']
    """
    return _HELD[feature](exercise)


def _accents(exercise: Exercise) -> frozenset[str]:
    if not exercise.has_accents:
        return frozenset()
    found = set()
    for hand in HANDS:
        notes = [exercise.notes[at] for at in exercise.struck if exercise.notes[at].hand == hand]
        heights = ["high" if note.accent else "low" for note in notes]
        found |= {f"{hand} {one} to {two}" for one, two in pairwise([*heights, *heights[:1]])}
    return frozenset(found)


def _ornaments(exercise: Exercise) -> frozenset[str]:
    notes = [exercise.notes[at] for at in exercise.struck]
    found = set()
    for at, note in enumerate(notes):
        if note.hand is not None and note.graces:
            just = "has" if notes[at - 1].hand == other_hand(note.hand) else "has not"
            name = ORNAMENTS.get(len(note.graces), "drag")
            found.add(f"{name} to {note.hand}, the grace's hand {just} just played")
        if note.buzz:
            found.add(f"buzz by {note.hand}")
    return frozenset(found)


def _rolls(exercise: Exercise) -> frozenset[str]:
    """Find doubles at the shortest value that end on a longer note: their strokes, the last one's too."""
    values = [exercise.notes[at].value for at in exercise.struck]
    if not values or min(values) == max(values):
        return frozenset()
    found, hands = set(), list[Hand | None]()
    for note in exercise.notes:
        if note.hand is not None and note.value == min(values):
            hands.append(note.hand)
            continue
        if _is_in_doubles(hands):
            found.add(f"{len(hands) + (note.hand is not None)} from {hands[0]}")
        hands = []
    return frozenset(found)


def _is_in_doubles(hands: list[Hand | None]) -> bool:
    doubled = all(one == two for one, two in zip(hands[::2], hands[1::2], strict=False))
    return doubled and len(hands) >= 2 * FEWEST_DOUBLES and len(set(hands)) == len(HANDS)


def _lead(exercise: Exercise) -> frozenset[str]:
    first = next((exercise.notes[at].hand for at in exercise.struck), None)
    if first is None or goes_to_the_other_hand(exercise):
        return frozenset()
    return frozenset({f"{first} leads"})


_HELD = {"accents": _accents, "ornaments": _ornaments, "rolls": _rolls, "lead": _lead}


def is_roll(exercise: Exercise) -> bool:
    """Tell whether an exercise is a roll: doubles that end on a longer note, or doubles in thirty-seconds."""
    struck = [exercise.notes[at] for at in exercise.struck]
    quick = bool(struck) and all(note.value <= Fraction(1, 32) for note in struck)
    return bool(_rolls(exercise)) or (quick and _is_in_doubles([note.hand for note in struck]))


def longest_run(exercise: Exercise, hand: Hand) -> int:
    """Return the most notes in a row by one hand, around the repeat; all of them where it plays alone.

    >>> from evenhand.music.text import parse_exercise
    >>> longest_run(parse_exercise("1/8: LRRL"), "L"), longest_run(parse_exercise("1/8: LL"), "L")
    (2, 2)
    """
    hands = [note.hand for note in exercise.notes]
    longest = now = 0
    for each in (*hands, *hands):
        now = now + 1 if each == hand else 0
        longest = max(longest, now)
    return min(longest, len(hands))
