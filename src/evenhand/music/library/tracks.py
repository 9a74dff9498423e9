"""The tracks of the library: exercises made by rule, in order of measured difficulty.

Conventions: a track's exercises stand easy to hard (``music.writing.difficulty``) at one tempo, the left hand
taken as the weaker. What does not go to the other hand by itself is led by the right hand in its track, and
by the left in the track ``left lead``. Titles are our own where the trade has none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from typing import TYPE_CHECKING

from evenhand.music.book import Book, Entry
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.library import forty, heights, sticking, strokes
from evenhand.music.library.letters import Titled, goes_to_the_other_hand
from evenhand.music.text import mirrored, parse_exercise

if TYPE_CHECKING:
    from evenhand.music.writing.difficulty import Difficulty

LEFT_LEAD = "left lead"
AT = "1/4=60"  # the tempo that difficulty is measured at


@dataclass(frozen=True, slots=True)
class LibraryExercise:
    """One exercise of a track; ``place`` counts from 1, easy to hard; ``hardness`` as in ``difficulty``."""

    exercise: Exercise
    title: str
    track: str
    place: int
    hardness: float


def left_led() -> Iterator[Titled]:
    """Give the right-led texts of every track's exercises that do not go to the other hand by themselves."""
    for name, made in _MADE.items():
        for title, text in made() if name not in NOT_LED else ():
            if not goes_to_the_other_hand(parse_exercise(text)):
                yield f"{title}, left first", text


_MADE: Mapping[str, Callable[[], Iterator[Titled]]] = {
    "drops": strokes.drops,
    "one hand": strokes.one_hand,
    "hand to hand": strokes.hand_to_hand,
    "singles": strokes.single_strokes,
    "bursts": strokes.bursts,
    "accents and taps": heights.accents_and_taps,
    "down and up": heights.down_and_up,
    "doubles": sticking.doubles,
    "triples": sticking.triples,
    "paradiddles": sticking.paradiddles,
    "rolls": sticking.rolls,
    "flams": heights.flams,
    "drags": heights.drags,
    "odd groups": sticking.odd_groups,
    LEFT_LEAD: left_led,
    "dynamics": heights.dynamics,
    "the forty": forty.the_forty,
}
TRACKS = tuple(_MADE)
NOT_LED = ("drops", "one hand", LEFT_LEAD, "the forty")  # tracks whose exercises have no left-led twin


@cache
def library() -> tuple[LibraryExercise, ...]:
    """Return all tracks in their order."""
    return tuple(each for name in TRACKS for each in track(name))


@cache
def track(name: str) -> tuple[LibraryExercise, ...]:
    """Return one track, easy to hard; ``name`` is one of ``TRACKS``."""
    titled = [(title, parse_exercise(text)) for title, text in _MADE[name]()]
    if name == LEFT_LEAD:
        titled = [(title, mirrored(exercise)) for title, exercise in titled]
    asks = _asks([exercise for _, exercise in titled])
    return tuple(
        LibraryExercise(titled[at][1], titled[at][0], name, place, asks[at].hardness)
        for place, at in enumerate(_order(asks), start=1)
    )


def _asks(exercises: Sequence[Exercise]) -> list[Difficulty]:
    from evenhand.music.writing.difficulty import difficulties

    return difficulties(exercises, Tempo.parse(AT))


def _order(asks: Sequence[Difficulty]) -> list[int]:
    from evenhand.music.writing.difficulty import easy_to_hard

    return easy_to_hard(asks)


def as_book(exercises: Sequence[LibraryExercise], title: str = "") -> Book:
    """Put exercises into a book, a section for each track."""
    ordered = groupby(exercises, key=lambda each: each.track)
    entries = [Entry(each.exercise, each.title, name.capitalize()) for name, some in ordered for each in some]
    return Book(tuple(entries), title)
