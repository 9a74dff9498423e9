"""Letters for hands, as people and programs write them beside notes: R, l, (L), RH, lR, B, RLRR LRLL.

Hands where none are written, put in by a rule. Such hands are a proposal: nobody wrote them.
"""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evenhand.music.exercise import Hand, other_hand

HandsWhereNone = Literal["refuse", "alternate", "doubles", "lead", "right"]

RULES: Mapping[HandsWhereNone, str] = {
    "alternate": "each the other hand than the note before",
    "doubles": "each hand twice",
    "lead": "the right hand on the beat and on every second place of it, the left between",
    "right": "the right hand",
}


def put_in(hands: Sequence[Hand | None], starts: Sequence[Fraction], rule: HandsWhereNone) -> list[Hand]:
    """Give a hand to every note that has none; ``starts`` are in whole notes from where beats are counted.

    >>> put_in([None] * 6, [Fraction(n, 8) for n in range(6)], "doubles")
    ['R', 'R', 'L', 'L', 'R', 'R']
    """
    leads = _leads(starts) if rule == "lead" else ()
    out: list[Hand] = ["L", "L"]  # so that the first is right
    for at, hand in enumerate(hands):
        if hand is None and rule == "lead":
            hand = leads[at]  # noqa: PLW2901 - what is put in
        elif hand is None and rule == "doubles" and out[-1] != out[-2]:
            hand = out[-1]  # noqa: PLW2901
        elif hand is None:
            hand = "R" if rule == "right" else other_hand(out[-1])  # noqa: PLW2901
        out.append(hand)
    return out[2:]


def _leads(starts: Sequence[Fraction]) -> list[Hand]:
    """Give each note the hand that its place would have in an unbroken run from the right hand on the beat.

    Places are counted by the halves of a quarter that most notes need, or by a beat's own where they are
    finer or it is parted in three, five or seven.

    >>> _leads([Fraction(0), Fraction(1, 8), Fraction(3, 16), Fraction(1, 4), Fraction(1, 3)])
    ['R', 'R', 'L', 'R', 'L']
    """
    beats: dict[int, int] = defaultdict(lambda: 1)
    for start in starts:
        beats[math.floor(4 * start)] = math.lcm(beats[math.floor(4 * start)], (4 * start).denominator)
    needed = Counter(beats[math.floor(4 * start)] for start in starts)
    usual = max(
        (parts for parts in needed if parts & (parts - 1) == 0), key=lambda n: (needed[n], n), default=2
    )
    parted = {beat: parts if parts & (parts - 1) else max(parts, usual, 2) for beat, parts in beats.items()}
    return ["L" if math.floor(4 * start % 1 * parted[math.floor(4 * start)]) % 2 else "R" for start in starts]


_LETTERS = re.compile(r"([rl]{0,8})([RL]{1,64}|B)")
_LONG = {"RH": "R", "LH": "L", "R.H.": "R", "L.H.": "L", "RIGHT": "R", "LEFT": "L"} | dict.fromkeys(
    ("BOTH", "BH", "R+L", "L+R", "R/L", "L/R", "R&L"), "B"
)
_IN_A_LINE = re.compile(r"([rl]{0,8})([RLB])")


@dataclass(frozen=True, slots=True)
class Letters:
    """What is said of one note: the hands of its strokes (mostly one), and of its graces."""

    hands: tuple[Hand, ...]
    graces: tuple[Hand, ...] = ()
    both: bool = False  # both hands at once, of which the right one is written


def read_letters(text: str) -> Letters | None:
    """Read the letters at one note: R, l, (L), R., RH, lR, RR, B.

    >>> read_letters("lR").graces, read_letters("B").both, read_letters("la")
    (('L',), True, None)
    """
    plain = text.strip().strip("()[] ")
    plain = _LONG.get(plain.upper(), plain).rstrip(".")
    if plain in {"r", "l", "b"}:
        plain = plain.upper()
    found = _LETTERS.fullmatch(plain)
    return _letters(found[2], found[1]) if found else None


def letters_in_words(words: str) -> tuple[Letters, ...]:
    """Read a line of letters, one a note: ``R L R R``, ``RLRR LRLL``, ``r l r l``, ``lR rL``.

    >>> [letters.hands[0] for letters in letters_in_words("RLRR L")]
    ['R', 'L', 'R', 'R', 'L']
    >>> letters_in_words("Roll")
    ()
    """
    plain = "".join(words.split())
    if not set(plain) & set("rlRL"):
        return ()  # a B alone names a passage
    if plain == plain.lower():
        plain = plain.upper()
    if not plain or _IN_A_LINE.sub("", plain):
        one = read_letters(words)
        return (one,) if one else ()
    return tuple(_letters(hand, graces) for graces, hand in _IN_A_LINE.findall(plain))


def _letters(strokes: str, graces: str) -> Letters:
    return Letters(("R",) if strokes == "B" else _hands(strokes), _hands(graces), strokes == "B")


def _hands(letters: str) -> tuple[Hand, ...]:
    return tuple("R" if letter in "rR" else "L" for letter in letters)
