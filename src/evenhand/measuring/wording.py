"""Figures and notes in words.

Conventions: a size is said without its sign, the words around it say which way; its interval follows in
brackets, smaller end first.
"""

from __future__ import annotations

import math

from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.measures import Measure

NAMES: dict[Hand, str] = {"R": "right", "L": "left"}
OTHERS: dict[Hand, str] = {"R": "left", "L": "right"}


def sized(figure: Measure, unit: str | None = None) -> str:
    """Say how large a figure is, with its interval: ``9 ms (7 to 11)``.

    >>> sized(Measure(-9.2, 40, "ms", (-11.4, -7.0)))
    '9 ms (7 to 11)'
    >>> sized(Measure(2.04, 40, "dB", (1.5, 2.58)))
    '2.0 dB (1.5 to 2.6)'
    """
    value, (low, high) = _towards(figure)
    digits = _digits(figure.unit if unit is None else unit, high - low)
    said = figure.unit if unit is None else unit
    return f"{plain(value, digits)}{_spaced(said)} ({plain(low, digits)} to {plain(high, digits)})"


def _towards(figure: Measure) -> tuple[float, tuple[float, float]]:
    """Return a figure's size and its ends, both counted the way the figure lies, smaller end first."""
    value = figure.value or 0.0
    low, high = figure.ci95 or (value, value)
    return (-value, (-high, -low)) if value < 0 else (value, (low, high))


def sized_way(figure: Measure, way: str) -> str:
    """Say how large a figure is, which way it lies, and its interval.

    >>> sized_way(Measure(9.2, 40, "ms", (7.0, 11.4)), "late")
    '9 ms late (7 to 11)'
    """
    size, interval = sized(figure).split(" (", 1)
    return f"{size} {way} ({interval}"


def _digits(unit: str, width: float) -> int:
    """Return how many digits after the point to say: fewer than two steps of them lie in no interval."""
    if unit == "dB":
        return 1
    if not unit:
        return 2
    return 0 if width >= 2 else 1


def _spaced(unit: str) -> str:
    """Return a unit as it follows a number."""
    return f" {unit}" if unit else ""


def plain(value: float, digits: int) -> str:
    """Return a number rounded for reading, never with a minus before nothing.

    >>> plain(-0.04, 1), plain(12.5, 0), plain(3.0, 1)
    ('0.0', '13', '3.0')
    """
    scale = 10**digits
    rounded = math.copysign(math.floor(abs(value) * scale + 0.5) / scale, value)
    return f"{rounded + 0.0 if rounded else 0.0:.{digits}f}"


def counted(n: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun.

    >>> counted(1, "repetition"), counted(3, "repetition")
    ('1 repetition', '3 repetitions')
    """
    return f"{n} {one if n == 1 else many or one + 's'}"


def joined(parts: list[str]) -> str:
    """Join phrases as a sentence does.

    >>> joined(["a"]), joined(["a", "b"]), joined(["a", "b", "c"])
    ('a', 'a and b', 'a, b and c')
    """
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def sentence(text: str) -> str:
    """Return text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def note_in_words(exercise: Exercise, position: int) -> str:
    """Name a note by its number and by the hand change it stands in.

    >>> from fractions import Fraction
    >>> from evenhand.domain.exercise import Note
    >>> notes = Exercise(tuple(Note(h, Fraction(1, 16)) for h in "LRRL"))
    >>> note_in_words(notes, 3)
    'note 4, the left after the double right'
    """
    struck = exercise.struck
    number = struck.index(position)
    hands = [exercise.notes[p].hand or "R" for p in struck]
    hand = hands[number]
    run = 1
    while run < len(hands) and hands[number - run] == hand:
        run += 1
    name = f"note {number + 1}"
    if run >= len(hands):
        return f"{name}, the {NAMES[hand]}"
    if run > 1:
        return f"{name}, the {_ORDINALS.get(run, f'{run}th')} {NAMES[hand]} in a row"
    before = 1
    while before < len(hands) and hands[number - 1 - before] != hand:
        before += 1
    run_of = _RUNS[before] + OTHERS[hand] if before in _RUNS else f"run of {OTHERS[hand]}s"
    return f"{name}, the {NAMES[hand]} after the {run_of}"


_ORDINALS = {2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh", 8: "eighth"}
_RUNS = {1: "", 2: "double ", 3: "triple "}
