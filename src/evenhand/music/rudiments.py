"""The forty standard rudiments of the trade, one row each.

Conventions: a row says one figure where its repeat leads with the same hand, and both
halves where it goes to the other hand, so each text repeats as the trade plays it.
Doubles of a roll are thirty-seconds; the stroke that ends a roll fills up to the next
quarter, half or whole note. Graces are by the other hand.

That there are forty is published. Their numbers, names and families, and all letters,
accents and note values, are from memory; numbers and names were compared with public
listings, accents and hands in part (``docs/book.md`` says which). Where the trade writes
a rhythm in several ways the one most often typed was chosen, and the comment says so.

Families of common practice beside the forty rudiments, built by rule from letters.

Conventions: each section is one family; all of it is common practice, and the choice and
the titles are ours. Where the second half is the first with the hands swapped, one exercise
is enough; else there are two, one led by the right hand and one by the left.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import Literal

from evenhand.music.book import Book, Entry
from evenhand.music.exercise import Exercise
from evenhand.music.text import mirrored, parse_exercise

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


NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
PLACES = ("1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th")
PARADIDDLES = (
    ("Single paradiddle", "1/16", "RLRRLRLL", 4),
    ("Double paradiddle", "1/24", "RLRLRRLRLRLL", 6),
    ("Triple paradiddle", "1/16", "RLRLRLRRLRLRLRLL", 8),
    ("Paradiddle-diddle", "1/24", "RLRRLL", 6),
)
ROLL_LENGTHS = range(5, 18)
SHORTEST_RELEASE = Fraction(1, 16)

Titled = tuple[str, str]  # a title, and the text of an exercise led by the right hand


def families() -> Book:
    """Return the families as a book with a section for each.

    >>> [entry.title for entry in families().entries if entry.section == "Flams in each place of a group"][:2]
    ['Flam on the 1st of four, right hand first', 'Flam on the 1st of four, left hand first']
    """
    made = (
        ("Singles", _singles()),
        ("From hand to hand", _from_hand_to_hand()),
        ("Doubles", _doubles()),
        ("Paradiddles from each of their notes", _paradiddles()),
        ("Triplet stickings", _triplets()),
        ("Rolls of 5 to 17 strokes", _rolls()),
        ("Flams in each place of a group", _graced("Flam", "l")),
        ("Drags in each place of a group", _graced("Drag", "ll")),
        ("Accents moved through a group", _accents()),
        ("Accents on paradiddles and doubles", _accents_on_stickings()),
    )
    entries = [
        entry for section, titled in made for title, text in titled for entry in _led(title, text, section)
    ]
    return Book(tuple(entries), "Families of common practice")


def _led(title: str, text: str, section: str) -> Iterator[Entry]:
    """Give an exercise, and the one led by the other hand where it does not go there by itself."""
    exercise = parse_exercise(text)
    if goes_to_the_other_hand(exercise):
        yield Entry(exercise, title, section)
        return
    yield Entry(exercise, f"{title}, right hand first", section)
    yield Entry(mirrored(exercise), f"{title}, left hand first", section)


def goes_to_the_other_hand(exercise: Exercise) -> bool:
    """Tell whether the second half is the first with the hands swapped.

    >>> goes_to_the_other_hand(parse_exercise("1/16: RLRR LRLL"))
    True
    """
    half = len(exercise.notes) // 2
    return exercise.notes[half:] == mirrored(exercise).notes[:half]


def _singles() -> Iterator[Titled]:
    for value, letters, named in (
        ("1/8", "RLRL", "eighths"),
        ("1/12", "RLRLRL", "eighth triplets"),
        ("1/16", "RLRLRLRL", "sixteenths"),
        ("1/24", "RLRLRLRLRLRL", "sixteenth triplets"),
    ):
        yield f"Singles in {named}", f"{value}: {letters}"
    yield "Singles, three and a rest", "1/16: RLR-"
    yield "Singles, five and a rest", "1/16: RLRL R - LRLR L -"
    yield "Singles, seven and a rest", "1/16: RLRL RLR- LRLR LRL-"


def _from_hand_to_hand() -> Iterator[Titled]:
    for count, value in ((8, "1/8"), (6, "1/12"), (5, "1/20"), (4, "1/16"), (3, "1/12")):
        title = f"{NUMBERS[count - 1].capitalize()} with each hand"
        yield title, f"{value}: " + "R" * count + "L" * count
    yield "Four, three, two, one with each hand", "1/16: RRRRLLLLRRRLLLRRLLRL"


def _doubles() -> Iterator[Titled]:
    yield "Doubles in sixteenths", "1/16: RRLLRRLL"
    yield "Doubles, begun with the second of a pair", "1/16: RLLRRLLR"
    yield "Doubles in triplets", "1/12: RRLLRRLLRRLL"
    yield "Doubles, the second accented", "1/16: R>RL>LR>RL>L"
    yield "Singles and doubles", "1/16: RLRLRRLL"
    yield "Two beats of singles, two of doubles", "1/16: RLRLRLRLRRLLRRLL"


def _paradiddles() -> Iterator[Titled]:
    for name, value, letters, starts in PARADIDDLES:
        for start in range(starts):
            turned = letters[start:] + letters[:start]
            turned = turned if turned[0] == "R" else _swapped(turned)
            yield (name if not start else f"{name} from its {PLACES[start]} note"), f"{value}: {turned}"


def _triplets() -> Iterator[Titled]:
    for letters in ("RLR", "RRL", "RLL"):
        yield f"{letters} again and again", "1/12: " + letters * 2
        if letters != "RLR":  # that one stands among the singles
            yield f"{letters} from hand to hand", "1/12: " + letters + _swapped(letters)
    yield "Doubles and singles in triplets", "1/12: RRLLRL"


def _rolls() -> Iterator[Titled]:
    for count in ROLL_LENGTHS:
        figure = roll(count)
        if (count - 1) // 2 % 2 == 0 and count % 2:  # an even number of doubles, then one stroke
            figure += " " + _swapped(figure)
        yield f"Roll of {count}", figure


def roll(count: int) -> str:
    """Write a roll led by the right hand: doubles, and one accented stroke, or two where ``count`` is even.

    The last stroke fills up to the next quarter, half or whole note, and is a sixteenth at least.

    >>> roll(7), roll(10)
    ('1/32: RRLLRR 1/16: >L', '1/32: RRLLRRLL 1/16: >R 3/16: >L')
    """
    pairs = (count - 1) // 2
    hands = ["RL"[pair % 2] for pair in range(pairs + 2)]
    doubles = "".join(hand * 2 for hand in hands[:pairs])
    ends = hands[pairs : pairs + count - 2 * pairs]
    before = Fraction(2 * pairs, 32) + SHORTEST_RELEASE * (len(ends) - 1)
    whole = next(length for length in _lengths() if length - before >= SHORTEST_RELEASE)
    values = [SHORTEST_RELEASE] * (len(ends) - 1) + [whole - before]
    released = " ".join(f"{value}: >{hand}" for value, hand in zip(values, ends, strict=True))
    return f"1/32: {doubles} {released}"


def _lengths() -> Iterator[Fraction]:
    length = Fraction(1, 4)
    while True:
        yield length
        length *= 2


def _graced(name: str, grace: str) -> Iterator[Titled]:
    """Put the ornament on each note of a group in turn."""
    for value, letters, of in (("1/16", "RLRL", "four"), ("1/12", "RLRLRL", "three")):
        size = 4 if of == "four" else 3
        for place in range(size):
            signs = [_grace(letter, grace) if at % size == place else "" for at, letter in enumerate(letters)]
            title = f"{name} on the {PLACES[place]} of {of}"
            yield title, f"{value}: " + "".join(f"{s}{h}" for s, h in zip(signs, letters, strict=True))
    signs = [_grace(letter, grace) for letter in "RLRRLRLL"]
    yield (
        f"{name} on each note of a paradiddle",
        "1/16: " + "".join(f"{s}{h}" for s, h in zip(signs, "RLRRLRLL", strict=True)),
    )


def _grace(hand: str, grace: str) -> str:
    """Write graces by the other hand."""
    return grace if hand == "R" else grace.replace("l", "r")


def _accents() -> Iterator[Titled]:
    """Move one accent, then each pair, then three, through a group of single strokes."""
    for value, letters, size in (("1/16", "RLRL", 4), ("1/12", "RLRLRL", 3)):
        for count in range(1, size):
            for places in combinations(range(size), count):
                title = f"Accent{'s' * (count > 1)} on the {_listed(places)} of {NUMBERS[size - 1]}"
                yield title, f"{value}: {_accented(letters, places, size)}"
    moved = "".join(_accented("RLRL", (place,), 4) for place in range(4))
    yield "One accent moved through the bar", "1/16: " + moved
    yield (
        "One accent moved through the bar and back",
        "1/16: " + moved + "".join(_accented("RLRL", (3 - place,), 4) for place in range(4)),
    )


def _accents_on_stickings() -> Iterator[Titled]:
    for name, letters in (("paradiddle", "RLRRLRLL"), ("double", "RRLLRRLL")):
        size = 4 if name == "paradiddle" else 2
        for place in range(size):
            title = f"Accent on the {PLACES[place]} of each {name}"
            if (name, place) != ("double", 1):  # that one stands among the doubles
                yield title, "1/16: " + _accented(letters, (place,), size)
    for place in range(4):
        title = f"Accent on the {PLACES[place]} of four, in doubles"
        yield title, "1/16: " + _accented("RRLL", (place,), 4)


def _listed(places: tuple[int, ...]) -> str:
    *most, last = (PLACES[place] for place in places)
    return f"{', '.join(most)} and {last}" if most else last


def _accented(letters: str, places: tuple[int, ...], size: int) -> str:
    return "".join(f">{hand}" if at % size in places else hand for at, hand in enumerate(letters))


def _swapped(letters: str) -> str:
    return letters.translate(str.maketrans("RLrl", "LRlr"))
