"""Which stickings are one and the same up to rotation, reversal or a swap of the hands.

Conventions: a sticking of n notes is a whole number of n bits, the first note the highest bit, 0 for R and
1 for L: numbers in rising order are stickings in order, R before L. ``quiet`` holds the accents the other
way round (0 where accented), so that of equal stickings the one accented earlier comes first. Arrays have
shape (m,), uint32. A class up to rotation is a necklace; up to reversal too, a bracelet.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

UpTo = Literal["none", "swap", "rotation", "rotation-reversal", "rotation-swap"]
UP_TO: tuple[UpTo, ...] = get_args(UpTo)

Codes = NDArray[np.uint32]
Keys = NDArray[np.uint64]


def rotated(codes: Codes, n: int, by: int) -> Codes:
    """Begin ``by`` notes later (0 <= by < n), what was left out coming last.

    >>> [f"{code:04b}" for code in rotated(np.array([0b0111], np.uint32), 4, 1)]
    ['1110']
    """
    if not by:
        return codes
    turned: Codes = ((codes << by) | (codes >> (n - by))) & (2**n - 1)
    return turned


def reversed_order(codes: Codes, n: int) -> Codes:
    """Read from the last note to the first."""
    back = np.zeros_like(codes)
    for at in range(n):
        back |= ((codes >> at) & 1) << (n - 1 - at)
    return back


def swapped(codes: Codes, n: int) -> Codes:
    """Give each note to the other hand."""
    others: Codes = codes ^ (2**n - 1)
    return others


def first_of_classes(hands: Codes, quiet: Codes | None, n: int, up_to: UpTo) -> NDArray[np.intp]:
    """Return the places of the first member of each class, in order.

    Parameters
    ----------
    hands, quiet
        The stickings and, where they have any, their accents, shape (m,); in rising order, none twice.
    n
        Notes in each.
    up_to
        What makes two of them one and the same.
    """
    if up_to == "none":
        return np.arange(hands.size)
    smallest = _key(hands, quiet, n)
    for image in _images(hands, quiet, n, up_to):
        np.minimum(smallest, _key(*image, n), out=smallest)
    if quiet is None:
        return _first_of_small(smallest, n)
    _, first = np.unique(smallest, return_index=True)
    return np.sort(first)


def _first_of_small(keys: Keys, n: int) -> NDArray[np.intp]:
    """Do as np.unique does, by a table of all 2^n: five times as quick where there are many."""
    first = np.zeros(2**n, dtype=np.uint32)
    places = np.arange(keys.size, dtype=np.uint32)
    first[keys[::-1]] = places[::-1]  # the last that is written stays: the first in order
    return np.flatnonzero(first[keys] == places)


def _key(hands: Codes, quiet: Codes | None, n: int) -> Keys:
    """Join hands and accents to one number in the order of both."""
    keys = hands.astype(np.uint64)
    return keys if quiet is None else (keys << np.uint64(n)) | quiet.astype(np.uint64)


def _images(hands: Codes, quiet: Codes | None, n: int, up_to: UpTo) -> Iterator[tuple[Codes, Codes | None]]:
    """Give every sticking that counts as the same as these, these themselves left out."""
    turns = range(n) if up_to.startswith("rotation") else range(1)
    for other, back in ((0, 0), (1, 0), (0, 1)):
        if (other and not up_to.endswith("swap")) or (back and not up_to.endswith("reversal")):
            continue
        of_hands = swapped(hands, n) if other else reversed_order(hands, n) if back else hands
        of_quiet = reversed_order(quiet, n) if back and quiet is not None else quiet
        for by in turns:
            if by or other or back:
                yield rotated(of_hands, n, by), None if of_quiet is None else rotated(of_quiet, n, by)
