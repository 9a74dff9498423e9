"""Tracks of ornaments: flams from open to closed, and drags.

Conventions: as in ``letters``. An open flam is written out, its grace a note of its own; where it is closed
it is a grace note. All of it is common practice; the choice, the rules and the titles are ours.
"""

from __future__ import annotations

from collections.abc import Iterator

from evenhand.music.library.letters import PLACES, Titled, accented, both_ways, graced, swapped

OPEN = (("an eighth", "1/8"), ("a sixteenth", "1/16"), ("a thirty-second", "1/32"))


def flams() -> Iterator[Titled]:
    """Open, then closed, with time after them; on each note of a group; in a paradiddle."""
    for name, value in OPEN:
        yield f"A flam opened to {name}, then time", _opened(value, "L")
    yield "A closed flam, then time", "1/4: lR- rL-"
    yield "Flams from hand to hand", "1/8: lR rL lR rL"
    yield "Four flams with each hand", "1/8: lRlRlRlR rLrLrLrL"
    yield "A flam and a tap by the same hand", "1/8: lRR rLL lRR rLL"
    yield "A flam and three single strokes", f"1/8: {both_ways('lRLRL')}"
    yield from _in_each_place("Flam", 1)
    yield "Flam on each note of a paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 1, 1)}"
    yield "Flam on the 1st of each paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 4, 1)}"
    yield "Accented flam, then soft singles", f"1/16: {both_ways('>lRLRL')}"


def drags() -> Iterator[Titled]:
    """Open, then closed, with time after them; on each note of a group."""
    for name, value in OPEN[1:]:
        yield f"A drag opened, each grace {name}, then time", _opened(value, "LL")
    yield "A closed drag, then time", "1/4: llR- rrL-"
    yield "Drags from hand to hand", "1/8: llR rrL llR rrL"
    yield "A drag and a tap", "1/8: llRL rrLR"
    yield "A drag and three single strokes", f"1/8: {both_ways('llRLRL')}"
    yield from _in_each_place("Drag", 2)
    yield "Drag on each note of a paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 1, 2)}"
    yield "Drag on the 1st of each paradiddle", f"1/16: {graced('RLRRLRLL', (0,), 4, 2)}"


def _opened(value: str, graces: str) -> str:
    """Write graces out in a note value, with their note and a rest, in a bar of two half notes."""
    whole = int(value.split("/")[1])
    rests = "-" * (whole // 2 - len(graces) - 1)
    once = f"{graces}R{rests}"
    return f"{value}: {once} {swapped(once)}"


def _in_each_place(name: str, graces: int) -> Iterator[Titled]:
    """Put the ornament on each note of a group in turn."""
    for value, letters, size, of in (("1/16", "RLRL", 4, "four"), ("1/12", "RLRLRL", 3, "three")):
        for place in range(size):
            text = graced(letters, (place,), size, graces)
            yield f"{name} on the {PLACES[place]} of {of}", f"{value}: {text}"
    letters = accented("RLRL", (0,), 4).replace(">R", f">{'l' * graces}R")
    yield f"{name} on the 1st of four, accented", f"1/16: {letters}"
