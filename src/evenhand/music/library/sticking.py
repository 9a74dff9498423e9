"""Tracks of stickings: doubles, triples, paradiddles, rolls and odd groups.

Conventions: as in ``letters``. All of it is common practice; the choice, the rules and the titles are ours.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice

from evenhand.music.library.letters import (
    NUMBERS,
    PLACES,
    Titled,
    accented,
    both_ways,
    lengths,
    singles,
    swapped,
)

PARADIDDLES = (
    ("Single paradiddle", "1/16", "RLRRLRLL", 4),
    ("Double paradiddle", "1/24", "RLRLRRLRLRLL", 6),
    ("Triple paradiddle", "1/16", "RLRLRLRRLRLRLRLL", 8),
    ("Paradiddle-diddle", "1/24", "RLRRLL", 6),
)
ROLL_LENGTHS = range(5, 18)
SHORTEST_RELEASE = Fraction(1, 16)
OPENING = ("1/16", "1/20", "1/24", "1/28", "1/32")  # a roll closes as its notes do, beat by beat
GROUPS = (
    (3, ("RLR", "RLL", "RRL")),
    (5, ("RLRLR", "RLRLL", "RLRRL")),
    (7, ("RLRLRLR", "RLRLRLL", "RLRRLRL")),
)


def doubles() -> Iterator[Titled]:
    """Two with each hand: alone with time after them, in each value, turned, mixed with singles."""
    yield "One double, then time", "1/8: RR 1/4: - 1/8: LL 1/4: -"
    yield "Doubles in eighths", "1/8: RRLL RRLL"
    yield "Doubles in sixteenths", "1/16: RRLL RRLL"
    yield "Inward doubles", "1/16: RLLR RLLR"
    yield "Doubles in triplets", "1/12: RRLLRR LLRRLL"
    yield "Doubles in sixteenth triplets", "1/24: RRLLRR LLRRLL"
    yield "Doubles in thirty-seconds", "1/32: RRLLRRLL RRLLRRLL"
    yield "Singles and doubles", "1/16: RLRL RRLL"
    yield "Two beats singles, two doubles", "1/16: RLRL RLRL RRLL RRLL"
    yield "Eighths, then each doubled", "1/8: RR LL 1/16: RRRR LLLL"
    for count in (3, 4):
        bar = "R" * count + "L" * count
        yield f"{NUMBERS[count - 1].capitalize()} each hand, then doubles", f"1/16: {bar}RRLL"
    yield "Doubles, the second accented", "1/16: R>RL>L R>RL>L"


def triples() -> Iterator[Titled]:
    """Three with each hand, and the threes that hold a double."""
    yield "One triple, then time", "1/8: RRR- LLL-"
    yield "Triples against the beat", "1/16: RRRL LLRR RLLL"
    yield "Triples in sixteenth triplets", "1/24: RRRLLL RRRLLL"
    for letters in ("RRL", "RLL"):
        yield f"{letters} again and again", f"1/12: {letters * 2}"
        yield f"{letters} from hand to hand", f"1/12: {both_ways(letters)}"
    yield "RLR again and again", "1/12: RLR RLR"
    yield "Doubles and singles in triplets", "1/12: RRL LRL"
    yield "Triples and singles", "1/16: RRRL LLRL"


def paradiddles() -> Iterator[Titled]:
    """Each paradiddle, begun on each of its notes; then with an accent that moves."""
    for name, value, letters, starts in PARADIDDLES:
        for start in range(starts):
            turned = letters[start:] + letters[:start]
            turned = turned if turned[0] == "R" else swapped(turned)
            yield (name if not start else f"{name} from its {PLACES[start]} note"), f"{value}: {turned}"
    for place in range(4):
        yield (
            f"Accent on the {PLACES[place]} of each paradiddle",
            f"1/16: {accented('RLRRLRLL', (place,), 4)}",
        )
    yield "A paradiddle, then doubles", "1/16: RLRR LLRR LRLL RRLL"


def rolls() -> Iterator[Titled]:
    """Give rolls by their strokes; doubles that close beat by beat, and open again; buzzes."""
    for count in ROLL_LENGTHS:
        figure = roll(count)
        if (count - 1) // 2 % 2 == 0 and count % 2:  # an even number of doubles, then one stroke
            figure += " " + swapped(figure)
        yield f"Roll of {count}", figure
    yield "Doubles, closing", _doubles_in(OPENING)
    yield "Doubles, closing and opening", _doubles_in((*OPENING, *OPENING[-2::-1]))
    yield "Buzz strokes in eighths", "1/8: R~L~R~L~"
    yield "A buzz and a tap", "1/8: R~L R~L L~R L~R"


def _doubles_in(values: Sequence[str]) -> str:
    """Fill a half note of each value with doubles, hand to hand throughout."""
    counts = [int(Fraction(1, 2) / Fraction(value)) for value in values]
    letters = iter("RRLL" * sum(counts))
    return " ".join(
        f"{value}: {''.join(islice(letters, count))}" for value, count in zip(values, counts, strict=True)
    )


def roll(count: int) -> str:
    """Write a roll led by the right hand: doubles, and one accented stroke, or two where ``count`` is even.

    The last stroke fills up to the next quarter, half or whole note, and is a sixteenth at least.

    >>> roll(7), roll(10)
    ('1/32: RRLLRR 1/16: >L', '1/32: RRLLRRLL 1/16: >R 3/16: >L')
    """
    pairs = (count - 1) // 2
    hands = ["RL"[pair % 2] for pair in range(pairs + 2)]
    letters = "".join(hand * 2 for hand in hands[:pairs])
    ends = hands[pairs : pairs + count - 2 * pairs]
    before = Fraction(2 * pairs, 32) + SHORTEST_RELEASE * (len(ends) - 1)
    whole = next(length for length in lengths() if length - before >= SHORTEST_RELEASE)
    values = [SHORTEST_RELEASE] * (len(ends) - 1) + [whole - before]
    released = " ".join(f"{value}: >{hand}" for value, hand in zip(values, ends, strict=True))
    return f"1/32: {letters} {released}"


def odd_groups() -> Iterator[Titled]:
    """Give groups of three, five and seven over a pulse of sixteenths, the first accented; and in a beat."""
    for size, stickings in GROUPS:
        for letters in stickings:
            handed_over = swapped(letters) if letters[0] == letters[-1] else letters
            bar = accented((letters + handed_over) * 2, (0,), size)
            yield f"Groups of {NUMBERS[size - 1]}, {letters}", f"{size}/4 1/16: {bar}"
    for size in (5, 7):
        beat = accented(singles(2 * size), (0,), size)
        yield f"{NUMBERS[size - 1].capitalize()} to a beat", f"1/{4 * size}: {beat}"
    yield "Threes over four", f"1/12: {accented(singles(12), (0, 4, 8), 12)}"
