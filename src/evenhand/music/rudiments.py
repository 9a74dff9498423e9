"""The forty standard rudiments of the trade, one row each.

Conventions: a row says one figure where its repeat leads with the same hand, and both
halves where it goes to the other hand, so each text repeats as the trade plays it.
Doubles of a roll are thirty-seconds; the stroke that ends a roll fills up to the next
quarter, half or whole note. Graces are by the other hand.

That there are forty is published. Their numbers, names and families, and all letters,
accents and note values, are from memory; numbers and names were compared with public
listings, accents and hands in part (``docs/book.md`` says which). Where the trade writes
a rhythm in several ways the one most often typed was chosen, and the comment says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenhand.music.book import Entry
from evenhand.music.text import parse_exercise

RudimentFamily = Literal["roll", "diddle", "flam", "drag"]


@dataclass(frozen=True, slots=True)
class Rudiment:
    """One rudiment: its number from 1 to 40, its name, its family, and its exercise text."""

    number: int
    name: str
    family: RudimentFamily
    text: str

    @property
    def entry(self) -> Entry:
        """The rudiment as an entry of a book, under its family."""
        return Entry(parse_exercise(self.text), self.name, SECTIONS[self.family])


SECTIONS: dict[RudimentFamily, str] = {
    "roll": "Roll rudiments",
    "diddle": "Diddle rudiments",
    "flam": "Flam rudiments",
    "drag": "Drag rudiments",
}


def rudiments() -> tuple[Rudiment, ...]:
    """Return the forty, in the order of their numbers.

    >>> rudiments()[15]
    Rudiment(number=16, name='Single paradiddle', family='diddle', text='1/16: >RLRR >LRLL')
    """
    return tuple(
        Rudiment(number, name, family, text) for number, (family, name, text) in enumerate(_ROWS, start=1)
    )


_ROWS: tuple[tuple[RudimentFamily, str, str], ...] = (
    # rolls by single strokes
    ("roll", "Single stroke roll", "1/16: RLRL RLRL"),  # also drawn in thirty-seconds
    ("roll", "Single stroke four", "1/24: RLR 1/8: L"),  # a triplet and its release; also drawn twice as long
    ("roll", "Single stroke seven", "1/24: RLR LRL 1/4: R 1/24: LRL RLR 1/4: L"),
    # rolls by many bounces
    ("roll", "Multiple bounce roll", "1/8: R~L~R~L~"),  # how many bounces is left to the hand
    ("roll", "Triple stroke roll", "1/24: RRR LLL"),
    # rolls by double strokes
    ("roll", "Double stroke open roll", "1/32: RRLL RRLL"),
    ("roll", "Five stroke roll", "1/32: RRLL 1/8: >R 1/32: LLRR 1/8: >L"),
    ("roll", "Six stroke roll", "1/16: >R 1/32: LLRR 1/16: >L"),  # also played as six even notes
    ("roll", "Seven stroke roll", "1/32: RRLL RR 1/16: >L"),  # the same hand leads, as most often typed
    ("roll", "Nine stroke roll", "1/32: RRLL RRLL 1/4: >R 1/32: LLRR LLRR 1/4: >L"),
    ("roll", "Ten stroke roll", "1/32: RRLL RRLL 1/16: >R 3/16: >L"),
    ("roll", "Eleven stroke roll", "1/32: RRLL RRLL RR 3/16: >L"),
    (
        "roll",
        "Thirteen stroke roll",
        "1/32: RRLL RRLL RRLL 1/8: >R 1/32: LLRR LLRR LLRR 1/8: >L",
    ),
    ("roll", "Fifteen stroke roll", "1/32: RRLL RRLL RRLL RR 1/16: >L"),
    (
        "roll",
        "Seventeen stroke roll",
        "1/32: RRLL RRLL RRLL RRLL 1/2: >R 1/32: LLRR LLRR LLRR LLRR 1/2: >L",
    ),
    # diddles
    ("diddle", "Single paradiddle", "1/16: >RLRR >LRLL"),
    ("diddle", "Double paradiddle", "1/24: >RLR LRR >LRL RLL"),  # also drawn as sixteenths in 6/8
    ("diddle", "Triple paradiddle", "1/16: >RLRL RLRR >LRLR LRLL"),
    ("diddle", "Single paradiddle-diddle", "1/24: >RLR RLL"),  # also drawn as sixteenths in 6/8
    # flams
    ("flam", "Flam", "1/8: lR rL"),
    ("flam", "Flam accent", "1/12: >lRLR >rLRL"),
    ("flam", "Flam tap", "1/16: >lRR >rLL"),
    ("flam", "Flamacue", "1/16: lR>LRL 1/4: lR 1/16: rL>RLR 1/4: rL"),
    ("flam", "Flam paradiddle", "1/16: >lRLRR >rLRLL"),
    ("flam", "Single flammed mill", "1/16: >lRRLR >rLLRL"),
    ("flam", "Flam paradiddle-diddle", "1/24: >lRLR RLL >rLRL LRR"),
    ("flam", "Pataflafla", "1/16: >lRLR >rL"),
    ("flam", "Swiss army triplet", "1/12: >lRRL"),
    ("flam", "Inverted flam tap", "1/16: >lRL >rLR"),
    ("flam", "Flam drag", "1/12: >lR 1/24: LL 1/12: R >rL 1/24: RR 1/12: L"),
    # drags
    ("drag", "Drag", "1/8: llR rrL"),
    ("drag", "Single drag tap", "1/8: llR>L rrL>R"),
    ("drag", "Double drag tap", "6/8 1/8: llR llR>L rrL rrL>R"),
    ("drag", "Lesson 25", "1/16: llRL 1/8: >R"),  # the same hand leads, as most often typed
    (
        "drag",
        "Single dragadiddle",
        "1/32: >RR 1/16: LRR 1/32: >LL 1/16: RLL",
    ),  # the drag as a measured double
    ("drag", "Drag paradiddle #1", "6/8 1/8: >R 1/16: llRLR R 1/8: >L 1/16: rrLRL L"),
    ("drag", "Drag paradiddle #2", "1/8: >R llR 1/16: llRLRR 1/8: >L rrL 1/16: rrLRLL"),
    ("drag", "Single ratamacue", "1/24: llRLR 1/8: >L 1/24: rrLRL 1/8: >R"),
    ("drag", "Double ratamacue", "6/8 1/8: llR 1/24: llRLR 1/8: >L rrL 1/24: rrLRL 1/8: >R"),
    ("drag", "Triple ratamacue", "1/8: llR llR 1/24: llRLR 1/8: >L rrL rrL 1/24: rrLRL 1/8: >R"),
)
