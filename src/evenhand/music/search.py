"""Find a sticking in exercises: as the whole, begun on another note, inside, or over the repeat.

Conventions: a query is written as exercise text writes notes, without values and bar lines: ``RLRR``, ``lR``,
``>RLR``; ``B`` is both hands. Letters all small or all large mean hands alone; where both are there, small
ones are graces. A note without a sign in the query may have one in the exercise. A rest between two notes
parts them; where a sticking lies in an exercise only if rests are passed over, that is said. Notes count from
0, rests too; one that is held goes on from the note before.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Exercise, Note
from evenhand.music.library.letters import swapped

Lies = Literal["whole", "turned", "begins", "inside", "around"]
LIES: tuple[Lies, ...] = ("whole", "turned", "begins", "inside", "around")  # the nearest first
LONGEST_QUERY = 64  # notes

_NOTE = re.compile(r"(>?)([rl]{0,3})([RLB-])")


@dataclass(frozen=True, slots=True)
class StickingFound:
    """Where a sticking lies in an exercise, at which note it begins, and what was done to find it there."""

    lies: Lies
    note: int
    hands_swapped: bool = False
    rests_between: bool = False


@dataclass(frozen=True, slots=True)
class SoughtSticking:
    """What is looked for: notes as ``(accent, graces, hand)``, "" where any will do."""

    notes: tuple[tuple[str, str, str], ...]

    @property
    def with_rests(self) -> bool:
        """Tell whether rests count."""
        return any(hand == "-" for _, _, hand in self.notes)

    @property
    def mirrored(self) -> SoughtSticking:
        """The same with the hands swapped."""
        return SoughtSticking(
            tuple((sign, swapped(graces), swapped(hand)) for sign, graces, hand in self.notes)
        )


def read_query(text: str) -> SoughtSticking:
    """Read what is looked for.

    Raises
    ------
    WrongOptions
        Where it has other signs than hands, graces, accents and rests, or too many notes.

    >>> read_query("rl rr").notes == read_query("RLRR").notes
    True
    """
    plain = "".join(text.split())
    plain = plain.upper() if plain == plain.lower() else plain
    notes = _NOTE.findall(plain)
    if not notes or "".join("".join(note) for note in notes) != plain or len(notes) > LONGEST_QUERY:
        must_be = f"R and L, such as RLRR; up to {LONGEST_QUERY} notes, with > and small graces if you like"
        raise WrongOptions(got=f"the sticking {text.strip()[:40]!r}", must_be=must_be)
    return SoughtSticking(tuple(notes))


def find_sticking(exercise: Exercise, query: SoughtSticking, *, swap: bool = False) -> StickingFound | None:
    """Return where a sticking lies in an exercise, the nearest way there is; None where it does not.

    ``swap`` looks for it with the hands swapped, too.

    >>> from evenhand.music.text import parse_exercise
    >>> find_sticking(parse_exercise("1/16: RRLR LLRL"), read_query("RLRR LRLL"))
    StickingFound(lies='turned', note=6, hands_swapped=False, rests_between=False)
    >>> find_sticking(parse_exercise("1/8: R-R-"), read_query("RR"))
    StickingFound(lies='whole', note=0, hands_swapped=False, rests_between=True)
    """
    all_notes = [at for at, note in enumerate(exercise.notes) if not note.held]
    found = _nearest(exercise, all_notes, query, swap=swap)
    if found is not None or query.with_rests or len(exercise.struck) == len(all_notes):
        return found
    passed = _nearest(exercise, exercise.struck, query, swap=swap)
    return None if passed is None else replace(passed, rests_between=True)


def _nearest(
    exercise: Exercise, places: Sequence[int], query: SoughtSticking, *, swap: bool
) -> StickingFound | None:
    """Return the nearer of the two ways that the hands can be."""
    found = _found(exercise, places, query)
    other = _found(exercise, places, query.mirrored) if swap else None
    if other is None or (found is not None and LIES.index(found.lies) <= LIES.index(other.lies)):
        return found
    return replace(other, hands_swapped=True)


def _found(exercise: Exercise, places: Sequence[int], query: SoughtSticking) -> StickingFound | None:
    """Look along some of an exercise's notes, and around its repeat."""
    n, asked = len(places), len(query.notes)
    around = "".join(_token(exercise.notes[at]) for at in places) * (2 + asked // n)
    if n % asked == 0:
        at = _at(_repeated(_pattern(query), n // asked), around)
        if at is not None:
            return StickingFound("turned" if at else "whole", places[at])
    at = _at(_repeated(_pattern(query), 1), around)
    if at is None:
        return None
    if asked % n == 0:
        return StickingFound("turned" if at else "whole", places[at])
    inside: Lies = "inside" if at + asked <= n else "around"
    return StickingFound("begins" if at == 0 and asked < n else inside, places[at])


def _token(note: Note) -> str:
    """Write a note so that its accent or a dot comes first: there a match may begin."""
    return (
        f"{'>' if note.accent else '.'}{''.join(note.graces).lower()}{'B' if note.both else note.hand or '-'}"
    )


_LOOSE: Mapping[str, str] = {"": "[>.]", ">": ">"}


@lru_cache(maxsize=64)
def _pattern(query: SoughtSticking) -> str:
    return "".join(f"{_LOOSE[sign]}{graces or '[rl]*'}{hand}" for sign, graces, hand in query.notes)


@lru_cache(maxsize=256)
def _repeated(pattern: str, times: int) -> re.Pattern[str]:
    return re.compile(f"(?:{pattern}){{{times}}}")


def _at(pattern: re.Pattern[str], around: str) -> int | None:
    """Return the note at which a pattern begins first."""
    found = pattern.search(around)
    return None if found is None else sum(sign in ">." for sign in around[: found.start()])
