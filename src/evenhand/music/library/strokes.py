"""Tracks of strokes: drops, one hand, hand to hand, singles and their bursts.

Conventions: as in ``letters``. All of it is common practice; the choice, the rules and the titles are ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise, product

from evenhand.music.exercise import Exercise, Hand
from evenhand.music.library.letters import NUMBERS, Titled, both_ways, listed, singles, swapped, with_rests

DROP_VALUE = Fraction(1, 2)  # a drop, and as long a rest: time to bounce out
BURSTS = (3, 5, 7, 9, 13, 17)
EACH_HAND = (
    (8, "1/8", ""),
    (6, "1/12", "triplets"),
    (5, "1/20", "fives"),
    (4, "1/8", ""),
    (3, "1/12", "triplets"),
    (2, "1/4", ""),
)
SINGLES = (
    ("1/8", 8, "eighths"),
    ("1/12", 6, "eighth triplets"),
    ("1/16", 8, "sixteenths"),
    ("1/20", 10, "fives"),
    ("1/24", 12, "sixteenth triplets"),
    ("1/32", 16, "thirty-seconds"),
)


def drops() -> Iterator[Titled]:
    """Let the stick fall, and leave it alone until it lies still."""
    yield "Drops, right hand alone", "1/2: R- R-"
    yield "Drops, left hand alone", "1/2: L- L-"
    yield "Drops from hand to hand", "1/2: R- L-"
    yield "Two drops of each hand", "1/2: R- R- L- L-"


def is_drops(exercise: Exercise) -> bool:
    """Tell whether an exercise is of drops: each note a half note, with as long a rest after it.

    >>> from evenhand.music.text import parse_exercise
    >>> is_drops(parse_exercise("1/2: R- L-")), is_drops(parse_exercise("1/4: R- L-"))
    (True, False)
    """
    struck, rests = exercise.notes[::2], exercise.notes[1::2]
    return (
        len(struck) == len(rests)
        and not any(note.is_rest for note in struck)
        and all(note.is_rest for note in rests)
        and all(note.value == DROP_VALUE for note in exercise.notes)
    )


def drop_hands(exercise: Exercise, count: int) -> tuple[Hand, ...]:
    """Name the hand of each of so many drops in a row."""
    hands = [exercise.notes[at].hand for at in exercise.struck]
    around = (hands[at % len(hands)] for at in range(count)) if hands else ()
    return tuple(hand for hand in around if hand is not None)


def one_hand() -> Iterator[Titled]:
    """Every rhythm of four eighths that begins with a stroke and has another, hand by hand."""
    for rest in product("R-", repeat=3):
        bar = "R" + "".join(rest)
        if 1 < bar.count("R") < len(bar):
            places = [at for at, sign in enumerate(bar) if sign == "R"]
            title = f"{listed(places)} of four, hand by hand"
            yield title, f"1/8: {both_ways(bar + bar)}"
    yield "Seven and a rest, hand by hand", f"1/8: {both_ways('RRRRRRR-')}"
    yield (
        "Eighths and triplets, hand by hand",
        " ".join(f"1/8: {hand * 4} 1/12: {hand * 6}" for hand in "RL"),
    )


def hand_to_hand() -> Iterator[Titled]:
    """So many with each hand."""
    yield "Hand to hand in quarters", "1/4: RLRL"
    for count, value, named in EACH_HAND:
        title = f"{NUMBERS[count - 1].capitalize()} each hand"
        yield f"{title}, {named}" if named else title, f"{value}: {both_ways('R' * count)}"
    for most in (3, 4):
        down = "".join(both_ways("R" * count) for count in range(most, 0, -1))
        name = ", ".join(NUMBERS[count - 1] for count in range(most, 0, -1))
        yield f"{name.capitalize()} each hand", f"1/16: {down}"


def single_strokes() -> Iterator[Titled]:
    """Hands in turn, in each note value; from one value to the next."""
    for value, count, named in SINGLES:
        yield f"Singles in {named}", f"{value}: {singles(count)}"
    values = [SINGLES[at] for at in (0, 1, 2, 4)]
    for (slow, _, first), (fast, _, second) in pairwise(values):
        text = f"{slow}: {singles(_in_half(slow))} {fast}: {singles(_in_half(fast))}"
        yield f"Singles, {first} to {second}", text


def _in_half(value: str) -> int:
    """Count the notes of a value in a half note."""
    return int(Fraction(1, 2) / Fraction(value))


def bursts() -> Iterator[Titled]:
    """So many singles and a rest up to the next quarter, half or whole note; then led by the other hand."""
    for count in BURSTS:
        name = NUMBERS[count - 1] if count <= len(NUMBERS) else str(count)
        burst = with_rests(singles(count), Fraction(1, 16))
        yield f"A burst of {name}, a rest", burst
        yield f"Bursts of {name}, lead in turn", f"{burst} {swapped(burst)}"
    for gap in range(1, 4):
        bar = "".join("-" if at % 4 == gap else hand for at, hand in enumerate(singles(8)))
        yield f"Singles, the {listed((gap,))} left out", f"1/8: {bar}"
    for count in (4, 8):
        text = f"1/8: {singles(4)} 1/16: {singles(count)}"
        yield f"Four slow, {NUMBERS[count - 1]} fast", text
