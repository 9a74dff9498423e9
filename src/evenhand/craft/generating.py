"""Generate stickings: all of a length that have the properties asked for.

Conventions: as in ``necklaces``. Properties choose first; classes are then formed among what is left, and
each is given by its first member, R before L. All numbers of n bits are gone through, in blocks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray

from evenhand.craft.necklaces import Codes, UpTo, first_of_classes
from evenhand.craft.properties import Wanted, asked
from evenhand.errors import WrongOptions

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
        """Take some of them."""
        return Stickings(self.n, self.hands[places], None if self.quiet is None else self.quiet[places])


def generate(wanted: Wanted, accents: Accents | None = None, up_to: UpTo = "none") -> Stickings:
    """Generate all stickings that are wanted, in order, one of each class.

    Raises
    ------
    WrongOptions
        Where the length, the accents' places or the number of them cannot be.

    >>> len(generate(Wanted(8))), len(generate(Wanted(8), up_to="rotation"))
    (256, 36)
    """
    _check(wanted.length, accents)
    found = Stickings(wanted.length, matching(wanted))
    if accents is not None:
        found = _accented(found, accents)
    return found.at(first_of_classes(found.hands, found.quiet, found.n, up_to))


def matching(wanted: Wanted) -> Codes:
    """Go through all stickings of a length and keep those that have every property asked for."""
    properties = asked(wanted)
    kept = []
    for codes in blocks(wanted.length):
        left = codes
        for each in properties:
            left = left[each.holds(left)]
        kept.append(left)
    return np.concatenate(kept)


def blocks(n: int) -> Iterator[Codes]:
    """Give all stickings of n notes in order, a block at a time."""
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
