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


def with_rests(letters: str, value: Fraction, length: Fraction | None = None) -> str:
    """Write notes of a value, and rests up to a length, a quarter, a half or a whole where none is given.

    The rests are the fewest there are, the shortest first. At least one note of rest is left.

    >>> with_rests("RLRLR", Fraction(1, 16)), with_rests("LR", Fraction(1, 32), Fraction(1, 2))
    ('1/16: RLRLR- 1/8: -', '1/32: LR 1/16: - 1/8: - 1/4: -')
    """
    played = len(letters) * value
    length = length or next(each for each in lengths() if each > played)
    left, rest, text = length - played, value, f"1/{value.denominator}: {letters}"
    while left > 0:
        if (left / rest) % 2 == 1:
            text += "-" if rest == value else f" 1/{rest.denominator}: -"
            left -= rest
        rest *= 2
    return text


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
