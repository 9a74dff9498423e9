"""Exercises written by rule from letters: what the tracks share.

Conventions: a title goes with the text of an exercise led by the right hand. Places in a group are counted
from 0 here, and said from 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from evenhand.music.exercise import Exercise
from evenhand.music.text import mirrored

Titled = tuple[str, str]  # a title, and the text of an exercise led by the right hand
NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
PLACES = ("1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th")
QUARTER = Fraction(1, 4)


def swapped(letters: str) -> str:
    """Swap the hands of letters, graces too.

    >>> swapped("lRL>R")
    'rLR>L'
    """
    return letters.translate(str.maketrans("RLrl", "LRlr"))


def both_ways(letters: str) -> str:
    """Write letters, and after them the same with the hands swapped."""
    return letters + swapped(letters)


def singles(count: int) -> str:
    """Write hands in turn, the right hand first.

    >>> singles(5)
    'RLRLR'
    """
    return ("RL" * count)[:count]


def accented(letters: str, places: Iterable[int], size: int) -> str:
    """Put accents on some notes of every group of ``size``.

    >>> accented("RLRL", (0,), 2)
    '>RL>RL'
    """
    wanted = set(places)
    return "".join(f">{hand}" if at % size in wanted else hand for at, hand in enumerate(letters))


def graced(letters: str, places: Iterable[int], size: int, graces: int) -> str:
    """Put graces by the other hand on some notes of every group of ``size``.

    >>> graced("RLRL", (0,), 4, 1), graced("RLRL", (1,), 2, 2)
    ('lRLRL', 'RrrLRrrL')
    """
    wanted = set(places)
    signs = {"R": "l" * graces, "L": "r" * graces}
    return "".join((signs[hand] if at % size in wanted else "") + hand for at, hand in enumerate(letters))


def listed(places: Iterable[int]) -> str:
    """Say places.

    >>> listed((0, 2, 3))
    '1st, 3rd and 4th'
    """
    *most, last = (PLACES[place] for place in places)
    return f"{', '.join(most)} and {last}" if most else last


def filled(count: int, value: Fraction) -> int:
    """Return how many rests fill notes up to the next quarter, half or whole note, and leave one at least.

    >>> filled(3, Fraction(1, 16)), filled(5, Fraction(1, 16))
    (1, 3)
    """
    length = QUARTER
    while length <= count * value:
        length *= 2
    return int(length / value) - count


def goes_to_the_other_hand(exercise: Exercise) -> bool:
    """Tell whether the second half is the first with the hands swapped.

    >>> from evenhand.music.text import parse_exercise
    >>> goes_to_the_other_hand(parse_exercise("1/16: RLRR LRLL"))
    True
    """
    half = len(exercise.notes) // 2
    return exercise.notes[half:] == mirrored(exercise).notes[:half]


def lengths() -> Iterator[Fraction]:
    """Give a quarter, a half, a whole note, and so on."""
    length = QUARTER
    while True:
        yield length
        length *= 2
