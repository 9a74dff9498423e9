"""Letters for hands, as people and programs write them beside notes: R, l, (L), RH, lR, RLRR LRLL."""

from __future__ import annotations

import re
from dataclasses import dataclass

from evenhand.domain.exercise import Hand

_LETTERS = re.compile(r"([rl]{0,8})([RL]{1,64})")
_LONG = {"RH": "R", "LH": "L", "R.H.": "R", "L.H.": "L", "RIGHT": "R", "LEFT": "L"}
_IN_A_LINE = re.compile(r"([rl]{0,8})([RL])")


@dataclass(frozen=True, slots=True)
class Letters:
    """What is said of one note: the hands of its strokes (mostly one), and of its graces."""

    hands: tuple[Hand, ...]
    graces: tuple[Hand, ...] = ()


def read_letters(text: str) -> Letters | None:
    """Read the letters at one note: R, l, (L), R., RH, lR, RR.

    >>> read_letters("lR"), read_letters("la")
    (Letters(hands=('R',), graces=('L',)), None)
    """
    plain = text.strip().strip("()[] ")
    plain = _LONG.get(plain.upper(), plain).rstrip(".")
    if plain in {"r", "l"}:
        plain = plain.upper()
    found = _LETTERS.fullmatch(plain)
    return Letters(_hands(found[2]), _hands(found[1])) if found else None


def letters_in_words(words: str) -> tuple[Letters, ...]:
    """Read a line of letters, one a note: ``R L R R``, ``RLRR LRLL``, ``r l r l``, ``lR rL``.

    >>> [letters.hands[0] for letters in letters_in_words("RLRR L")]
    ['R', 'L', 'R', 'R', 'L']
    >>> letters_in_words("Roll")
    ()
    """
    plain = "".join(words.split())
    if plain == plain.lower():
        plain = plain.upper()
    if not plain or _IN_A_LINE.sub("", plain):
        one = read_letters(words)
        return (one,) if one else ()
    return tuple(Letters(_hands(hand), _hands(graces)) for graces, hand in _IN_A_LINE.findall(plain))


def _hands(letters: str) -> tuple[Hand, ...]:
    return tuple("R" if letter in "rR" else "L" for letter in letters)
