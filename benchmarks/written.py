"""Exercises of many kinds as text, drawn at random: 4 to 64 notes, triplets, rests, accents, rolls."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

# Stickings that every teacher sets (common practice).
KNOWN = (
    "RLRL", "RRLL", "RLRR", "RLLR", "RLRRLRLL", "RLLRLRRL", "RRLRLLRL", "RLRLRRLRLRLL", "RLRRLLRLRRLL",
    "RLRLRLRRLRLRLRLL", "RLRLLRLRRLRR", "RRLRRLRL", "RLLRLL", "RRLRRL", "RLRLRLLRLRLR",
)  # fmt: skip
EVEN_VALUES = ("1/8", "1/16")
TRIPLET_VALUES = ("1/12", "1/24")


@dataclass(frozen=True)
class Written:
    """An exercise's text, with what its tempo is chosen by: shortest value, length, how many positions."""

    text: str
    shortest: Fraction
    length: Fraction
    positions: int


def _hands(rng: np.random.Generator, n: int, longest_run: int = 2) -> list[str]:
    """Draw a sticking with no run over so many by one hand."""
    hands: list[str] = []
    while len(hands) < n:
        last = hands[-longest_run:]
        stuck = len(last) == longest_run and len(set(last)) == 1
        swap = stuck or bool(rng.random() < 0.6)
        hands.append(("L" if hands[-1] == "R" else "R") if hands and swap else hands[-1] if hands else "R")
    return hands


def _sticking(rng: np.random.Generator) -> list[str]:
    if rng.random() < 0.5:
        return list(KNOWN[rng.integers(len(KNOWN))])
    return _hands(rng, int(rng.choice([4, 6, 8, 8, 12, 16])), int(rng.integers(2, 4)))


def _value(rng: np.random.Generator, n: int) -> str:
    threes = n % 3 == 0 and rng.random() < 0.6
    return str(rng.choice(TRIPLET_VALUES if threes else EVEN_VALUES))


def _write(value: str, notes: list[str]) -> Written:
    each = Fraction(value)
    return Written(f"{value}: {' '.join(notes)}", each, each * len(notes), len(notes))


def plain(rng: np.random.Generator) -> Written:
    """Write even notes without anything on them."""
    hands = _sticking(rng)
    return _write(_value(rng, len(hands)), hands)


def with_accents(rng: np.random.Generator) -> Written:
    """Write accents that fall so that no shift of the exercise looks like it."""
    hands = _sticking(rng)
    hands = hands if len(hands) >= 4 else hands * 4
    accents = {0, *rng.choice(len(hands), max(len(hands) // 5, 1), replace=False).tolist()}
    while any(_shifted(hands, accents, by) for by in range(1, len(hands))):
        accents = {
            0,
            *rng.choice(len(hands), int(rng.integers(1, len(hands) // 2 + 1)), replace=False).tolist(),
        }
    return _write(_value(rng, len(hands)), [(">" if i in accents else "") + h for i, h in enumerate(hands)])


def _shifted(hands: list[str], accents: set[int], by: int) -> bool:
    """Tell whether the accents fall alike when the exercise is turned round by so many notes."""
    n = len(hands)
    return {(a + by) % n for a in accents} == accents


def with_rests(rng: np.random.Generator) -> Written:
    """Write a rest here and there, never two in a row, never first."""
    hands = _sticking(rng)
    hands = hands if len(hands) >= 6 else hands * 2
    chosen = set(rng.choice(np.arange(2, len(hands), 2), max(len(hands) // 8, 1), replace=False).tolist())
    return _write(_value(rng, len(hands)), ["-" if i in chosen else hand for i, hand in enumerate(hands)])


def with_mixed_values(rng: np.random.Generator) -> Written:
    """Write beats of two eighths, four sixteenths or three triplets, in hands that go on."""
    beats = [("1/8", 2), ("1/16", 4), ("1/12", 3)]
    chosen = [beats[i] for i in rng.integers(0, 3, int(rng.integers(2, 5)))]
    hands = _hands(rng, sum(count for _, count in chosen))
    parts, at = [], 0
    for value, count in chosen:
        parts.append(f"{value}: {' '.join(hands[at : at + count])}")
        at += count
    shortest = min(Fraction(value) for value, _ in chosen)
    return Written(" ".join(parts), shortest, Fraction(len(chosen), 4), at)


def with_graces(rng: np.random.Generator, count: int) -> Written:
    """Write flams (count 1) or drags (count 2) on some of the notes, the first among them."""
    hands = _sticking(rng)
    hands = hands if len(hands) >= 4 else hands * 4
    graced = {0, *rng.choice(len(hands), max(len(hands) // 3, 1), replace=False).tolist()}
    other = {"R": "l", "L": "r"}
    notes = [(other[h] * count if i in graced else "") + h for i, h in enumerate(hands)]
    return _write(str(rng.choice(EVEN_VALUES)), notes)


def rolls(rng: np.random.Generator) -> Written:
    """Write doubles in thirty-seconds."""
    return _write("1/32", list("RRLL") * int(rng.integers(2, 9)))


def with_buzz(rng: np.random.Generator) -> Written:
    """Write buzz strokes on every other note or so, the rest plain."""
    hands = _hands(rng, int(rng.choice([4, 6, 8])), 1)
    return _write(
        "1/8", [hand + ("~" if rng.random() < 0.5 or not i else "") for i, hand in enumerate(hands)]
    )


def long_one(rng: np.random.Generator) -> Written:
    """Write 32 to 64 notes with a few accents."""
    n = int(rng.choice([32, 48, 64, 64]))
    accents = {0, *rng.choice(n, n // 8, replace=False).tolist()}
    notes = [(">" if i in accents else "") + hand for i, hand in enumerate(_hands(rng, n, 3))]
    return _write(_value(rng, n), notes)
