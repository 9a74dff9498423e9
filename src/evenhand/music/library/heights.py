"""Tracks of heights and ornaments: accents and taps, down and up strokes, dynamics; flams and drags.

Conventions: as in ``letters``. All of it is common practice; the choice, the rules and the titles are ours.
How loud a passage is cannot be written in exercise text, so dynamics are accents: few, many, bar by bar. An
open flam is written out, its grace a note of its own; where it is closed it is a grace note.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations

from evenhand.music.library.letters import (
    NUMBERS,
    PLACES,
    Titled,
    accented,
    both_ways,
    graced,
    listed,
    singles,
    swapped,
    with_rests,
)

STICKINGS = (("doubles", "RRLLRRLL", 4), ("threes", "RLLRLLRLL", 3), ("inward paradiddles", "RLLRLRRL", 4))
SWELL = ((0,), (0, 2), (0, 1, 2, 3))  # accents in a beat of four, more and more


def accents_and_taps() -> Iterator[Titled]:
    """Move one accent, then each pair, then three, through a group of singles; then through stickings."""
    for value, letters, size in (("1/16", "RLRL", 4), ("1/12", "RLRLRL", 3)):
        for count in range(1, size):
            for places in combinations(range(size), count):
                title = f"Accent{'s' * (count > 1)} on the {listed(places)} of {NUMBERS[size - 1]}"
                yield title, f"{value}: {accented(letters, places, size)}"
    moved = "".join(accented("RLRL", (place,), 4) for place in range(4))
    back = "".join(accented("RLRL", (3 - place,), 4) for place in range(4))
    yield "Accents on the beat, lead in turn", "1/8: >RLRL >RLRL >LRLR >LRLR"
    yield "One accent through the bar", "1/16: " + moved
    yield "One accent, through and back", "1/16: " + moved + back
    for place in range(4):
        yield f"Accent on the {PLACES[place]} of four, in doubles", f"1/16: {accented('RRLL', (place,), 4)}"
    yield "Accent on the 1st of each double", f"1/16: {accented('RRLLRRLL', (0,), 2)}"
    for place in range(3):
        text = accented(both_ways("RLL"), (place,), 3)
        yield f"RLL from hand to hand, the {PLACES[place]} accented", f"1/12: {text}"


def down_and_up() -> Iterator[Titled]:
    """One hand by itself: every second, third, fourth stroke accented; then hand to hand, low to high."""
    for every in (4, 3, 2):
        bar = accented("R" * (2 * every), (0,), every)
        value = "1/12" if every == 3 else "1/8"
        yield f"Every {PLACES[every - 1]} high, hand by hand", f"{value}: {both_ways(bar)}"
    yield "A down stroke, then time", "1/8: >RR 1/4: - 1/8: >LL 1/4: -"
    yield "An up stroke, then time", "1/8: R>R 1/4: - 1/8: L>L 1/4: -"
    yield "Two high, two low, hand by hand", f"1/8: {both_ways('>R>RRR>R>RRR')}"
    yield "One hand high, one low", "1/8: >RL>RL >RL>RL"
    yield "High and low, two and two", f"1/8: {both_ways('>R>LRL')}"
    yield "One high, three low", f"1/16: {both_ways(accented('RLRL', (0,), 4))}"
    yield "Low to high, each hand", "1/8: R>R L>L R>R L>L"
    yield "High to low, each hand", "1/8: >RR >LL >RR >LL"


def dynamics() -> Iterator[Titled]:
    """Few accents and many; a loud bar and a soft one; the same line with each contrast."""
    loud, soft = accented(singles(4), range(4), 4), singles(4)
    yield "Four loud, four soft", f"1/8: {loud} {soft}"
    yield "Two beats loud, two beats soft", f"1/16: {loud}{loud} {soft}{soft}"
    yield "One loud in a bar of soft", f"1/16: {accented(singles(16), (0,), 16)}"
    yield "One loud in a bar, in turn", f"1/16: {both_ways(accented(singles(8), (0,), 8))}"
    yield "One soft in a bar of loud", f"1/8: {accented(singles(8), range(7), 8)}"
    swell = [accented("RLRL", places, 4) for places in SWELL]
    yield "From soft to loud, beat by beat", f"1/16: RLRL {' '.join(swell)}"
    yield "From loud to soft, beat by beat", f"1/16: {' '.join(reversed(swell))} RLRL"
    for name, letters, size in STICKINGS:
        value = "1/12" if size == 3 else "1/16"
        yield f"One loud, the rest soft, in {name}", f"{value}: {accented(letters, (0,), len(letters))}"
    turn = accented("RLRRLRLL", (0, 3), 8)
    yield "Loud and soft paradiddles", f"1/16: {turn}{swapped(turn)}"


OPEN = (("an eighth", "1/8"), ("a sixteenth", "1/16"), ("a thirty-second", "1/32"))


def flams() -> Iterator[Titled]:
    """Open, then closed, with time after them; on each note of a group; in a paradiddle."""
    for name, value in OPEN:
        yield f"Open flam, {name} apart", _opened(value, "L")
    yield "A closed flam, then time", "1/4: lR- rL-"
    yield "Flams from hand to hand", "1/8: lR rL lR rL"
    yield "Four flams with each hand", "1/8: lRlRlRlR rLrLrLrL"
    yield "A flam and a tap, same hand", "1/8: lRR rLL lRR rLL"
    yield "A flam and three single strokes", f"1/8: {both_ways('lRLRL')}"
    yield from _in_each_place("Flam", 1)
    yield "Flam on each note of a paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 1, 1)}"
    yield "Flam on the 1st of each paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 4, 1)}"
    yield "Accented flam, then soft singles", f"1/16: {both_ways('>lRLRL')}"


def drags() -> Iterator[Titled]:
    """Open, then closed, with time after them; on each note of a group."""
    for name, value in OPEN[1:]:
        yield f"Open drag, each grace {name}", _opened(value, "LL")
    yield "A closed drag, then time", "1/4: llR- rrL-"
    yield "Drags from hand to hand", "1/8: llR rrL llR rrL"
    yield "A drag and a tap", "1/8: llRL rrLR"
    yield "A drag and three single strokes", f"1/8: {both_ways('llRLRL')}"
    yield from _in_each_place("Drag", 2)
    yield "Drag on each note of a paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 1, 2)}"
    yield "Drag on the 1st of each paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 4, 2)}"


def _opened(value: str, graces: str) -> str:
    """Write graces out in a note value, with their note and rests, in a bar of two half notes."""
    once = with_rests(f"{graces}R", Fraction(value), Fraction(1, 2))
    return f"{once} {swapped(once)}"


def _in_each_place(name: str, graces: int) -> Iterator[Titled]:
    """Put the ornament on each note of a group in turn."""
    for value, letters, size, of in (("1/16", "RLRL", 4, "four"), ("1/12", "RLRLRL", 3, "three")):
        for place in range(size):
            text = graced(letters, (place,), size, graces)
            yield f"{name} on the {PLACES[place]} of {of}", f"{value}: {text}"
    letters = accented("RLRL", (0,), 4).replace(">R", f">{'l' * graces}R")
    yield f"{name} on the 1st of four, accented", f"1/16: {letters}"
