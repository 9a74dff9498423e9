"""Generate stickings: all of a length that have the properties asked for.

Conventions: as in ``equivalence``. Properties choose first; classes are then formed among what is left, and
each is given by its first member, R before L. All numbers of n bits are gone through, in blocks.

From numbers back to exercises: many stickings written as text at once, or as exercises.

Conventions: stickings as in ``equivalence``; one note value throughout. The text is the one that
``print_exercise`` gives of each; where it puts spaces is read off one exercise printed by it.

Find why no sticking is as it was asked for: what cannot go together, found by trying.

Conventions: ``kept_by[s]`` counts the stickings whose properties are exactly those of the set ``s``, a whole
number with one bit a property. A set of properties cannot be had together if no sticking keeps all of it;
the smallest such set is what is given. All stickings are gone through once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongOptions
from evenhand.music.equivalence import Codes, UpTo, first_of_classes
from evenhand.music.exercise import Exercise, Meter, Note
from evenhand.music.text import print_exercise
from evenhand.music.writing.properties import Property, Quantity, StickingQuery, asked

MOST_NOTES = 24
MOST_WITH_ACCENTS = 8_000_000  # stickings times ways to place the accents
BLOCK = 2**18  # stickings gone through at a time: they stay in a core's cache


@dataclass(frozen=True, slots=True)
class Accents:
    """Accents on every sticking: ``count`` of them in every way, or those at ``places`` (from 0)."""

    count: int | None = None
    places: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Stickings:
    """What was generated: ``n`` notes each. ``hands`` and ``quiet`` (where accented) have shape (m,)."""

    n: int
    hands: Codes
    quiet: Codes | None = None

    def __len__(self) -> int:
        return int(self.hands.size)

    def at(self, places: slice | NDArray[np.intp]) -> Stickings:
        """Take some of them.

        Parameters
        ----------
        places
            A slice, or places of shape (k,).
        """
        return Stickings(self.n, self.hands[places], None if self.quiet is None else self.quiet[places])


def generate(wanted: StickingQuery, accents: Accents | None = None, up_to: UpTo = "none") -> Stickings:
    """Generate all stickings that are wanted, in order, one of each class.

    Raises
    ------
    WrongOptions
        Where the length, the accents' places or the number of them cannot be.

    >>> len(generate(StickingQuery(8))), len(generate(StickingQuery(8), up_to="rotation"))
    (256, 36)
    """
    _check(wanted.length, accents)
    found = Stickings(wanted.length, matching(wanted))
    if accents is not None:
        found = _accented(found, accents)
    return found.at(first_of_classes(found.hands, found.quiet, found.n, up_to))


def matching(wanted: StickingQuery) -> Codes:
    """Go through all stickings of a length and keep those that have every property asked for.

    Returns
    -------
    In rising order, shape (m,).
    """
    properties = asked(wanted)
    kept = []
    for codes in blocks(wanted.length):
        left = codes
        for each in properties:
            left = left[each.holds(left)]
        kept.append(left)
    return np.concatenate(kept)


def blocks(n: int) -> Iterator[Codes]:
    """Give all stickings of n notes in order, a block at a time.

    Returns
    -------
    In rising order, each of shape (k,), k at most ``BLOCK``.
    """
    for start in range(0, 2**n, BLOCK):
        yield np.arange(start, min(start + BLOCK, 2**n), dtype=np.uint32)


def _accented(plain: Stickings, accents: Accents) -> Stickings:
    """Put accents on every sticking, in every way that is asked for."""
    n, everywhere = plain.n, 2**plain.n - 1
    if accents.count is None:
        ways = np.array([everywhere - sum(2 ** (n - 1 - place) for place in set(accents.places))], np.uint32)
    elif len(plain) * comb(n, accents.count) > MOST_WITH_ACCENTS:
        raise WrongOptions(
            got=f"{len(plain):,} stickings with {accents.count} accents each, "
            f"{len(plain) * comb(n, accents.count):,} in all",
            must_be=f"at most {MOST_WITH_ACCENTS:,}; ask for fewer notes or accents, or for more properties",
        )
    else:
        ways = np.concatenate([b[np.bitwise_count(b) == n - accents.count] for b in blocks(n)])
    return Stickings(n, np.repeat(plain.hands, ways.size), np.tile(ways, len(plain)))


def _check(n: int, accents: Accents | None) -> None:
    """Refuse what cannot be gone through, or makes no sense."""
    if not 1 <= n <= MOST_NOTES:
        raise WrongOptions(got=f"a length of {n:,} notes", must_be=f"1 to {MOST_NOTES} notes")
    if accents is None:
        return
    if accents.count is not None and not 0 <= accents.count <= n:
        raise WrongOptions(got=f"{accents.count} accents on {n} notes", must_be=f"0 to {n} accents")
    beyond = [place + 1 for place in accents.places if not 0 <= place < n]
    if beyond:
        raise WrongOptions(got=f"an accent on note {beyond[0]} of {n}", must_be=f"notes from 1 to {n}")


SIGNS = ("R", "L", ">R", ">L")


def texts(stickings: Stickings, value: Fraction, meter: Meter | None = None) -> list[str]:
    """Write each sticking as exercise text."""
    opening, groups = _layout(stickings.n, value, meter)
    kinds = kinds_of(stickings)
    words = np.full(len(stickings), opening, dtype=object)
    at = 0
    for size in groups:
        index = np.zeros(len(stickings), dtype=np.int64)
        for column in range(at, at + size):
            index = index * 4 + kinds[:, column]
        words = words + " " + _spelled(size)[index]
        at += size
    return [str(word) for word in words]


def hands_and_accents(stickings: Stickings) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which notes are the left hand's and which are accented, both of shape (m, n).

    Returns
    -------
    Whether each note is by the left hand, and whether it is accented, both of shape (m, n).
    """
    kinds = kinds_of(stickings)
    return kinds % 2 == 1, kinds >= 2


def kinds_of(stickings: Stickings) -> NDArray[np.int8]:
    """Return each note's place among ``SIGNS``.

    Returns
    -------
    Places among ``SIGNS``, shape (m, n).
    """
    kinds = np.zeros((len(stickings), stickings.n), dtype=np.int8)
    for column in range(stickings.n):
        bit = stickings.n - 1 - column
        kinds[:, column] = (stickings.hands >> bit) & 1
        if stickings.quiet is not None:
            kinds[:, column] += (2 * (1 - ((stickings.quiet >> bit) & 1))).astype(np.int8)
    return kinds


def _layout(n: int, value: Fraction, meter: Meter | None) -> tuple[str, list[int]]:
    """Return what stands before the notes, and how many notes stand between spaces."""
    printed = print_exercise(Exercise((Note("R", value),) * n, meter))
    opening, _, notes = printed.partition(": ")
    return f"{opening}:", [len(group) for group in notes.split(" ")]


def _spelled(size: int) -> NDArray[np.object_]:
    """Spell every group of so many notes, shape (4^size,)."""
    groups = np.array([""], dtype=object)
    for _ in range(size):
        groups = np.concatenate([group + np.array(SIGNS, dtype=object) for group in groups])
    return groups


Counts = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Why no sticking of ``length`` notes is as asked: the smallest set of properties that cannot all hold.

    ``others`` are those of it beside the last that counts something, and ``counts`` what that comes to with
    the others. ``left`` has each property asked, and how many there are without it.
    """

    length: int
    properties: tuple[Property, ...]
    counted: Quantity | None
    others: tuple[Property, ...]
    counts: tuple[int, ...]
    left: tuple[tuple[Property, int], ...]


def conflict_in(wanted: StickingQuery) -> Conflict | None:
    """Find why there is no sticking as wanted; None where there are some."""
    properties = asked(wanted)
    kept_by = _kept_by(wanted.length, properties)
    everything = tuple(range(len(properties)))
    if _how_many(kept_by, everything):
        return None
    among = _smallest_conflict(kept_by, everything)
    last = max((i for i in among if properties[i].quantity and not properties[i].never), default=None)
    counted = None if last is None else properties[last].quantity
    others = tuple(properties[i] for i in among if i != last)
    left = [_how_many(kept_by, (j for j in everything if j != i)) for i in everything]
    return Conflict(
        wanted.length,
        tuple(properties[i] for i in among),
        counted,
        others,
        () if counted is None else _counts(wanted.length, counted, others),
        tuple(zip(properties, left, strict=True)),
    )


def _kept_by(n: int, properties: tuple[Property, ...]) -> Counts:
    """Count the stickings by which properties they have."""
    counts = np.zeros(2 ** len(properties), dtype=np.int64)
    for codes in blocks(n):
        kept = np.zeros(codes.shape, dtype=np.int64)
        for bit, each in enumerate(properties):
            kept |= each.holds(codes).astype(np.int64) << bit
        counts += np.bincount(kept, minlength=counts.size)
    return counts


def _how_many(kept_by: Counts, of: Iterable[int]) -> int:
    """Count the stickings that have at least these properties."""
    wanted = sum(1 << bit for bit in of)
    return int(kept_by[(np.arange(kept_by.size) & wanted) == wanted].sum())


def _smallest_conflict(kept_by: Counts, everything: tuple[int, ...]) -> tuple[int, ...]:
    """Return the first smallest set of properties that cannot be had together."""
    sets = chain.from_iterable(combinations(everything, size) for size in range(1, len(everything) + 1))
    return next(some for some in sets if not _how_many(kept_by, some))


def _counts(n: int, quantity: Quantity, others: tuple[Property, ...]) -> tuple[int, ...]:
    """Return what a quantity comes to where the others hold."""
    values: set[int] = set()
    for codes in blocks(n):
        kept = codes
        for each in others:
            kept = kept[each.holds(kept)]
        values.update(np.unique(quantity.of(kept)).tolist())
    return tuple(sorted(values))
