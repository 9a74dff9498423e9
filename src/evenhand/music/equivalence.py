"""Tell which exercises are the same: up to where the repeat begins, and up to which hand is which.

Conventions: an exercise is repeated, so that ``RLRR LRLL`` begun two notes later is
``RRLR LLRL``; with the hands swapped it is ``LRLL RLRR``. Note values and all that stands at
a note must agree; meter, bar lines, repeats and rolls say how it is written, and do not count.
``RL`` and ``RLRL`` differ in length, and are not the same here.

The key is the least rotation in the order of its tokens (Booth 1980, "Lexicographically
least circular substrings", Information Processing Letters 10:240-242; the two-pointer
form used here is from memory), so its cost is linear in the number of notes.

Which stickings are one and the same up to rotation, reversal or a swap of the hands.

Conventions: a sticking of n notes is a whole number of n bits, the first note the highest bit, 0 for R and
1 for L: numbers in rising order are stickings in order, R before L. ``quiet`` holds the accents the other
way round (0 where accented), so that of equal stickings the one accented earlier comes first. Arrays have
shape (m,), uint32. A class up to rotation is a necklace; up to reversal too, a bracelet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.music.book import Entry
from evenhand.music.exercise import DYNAMICS, SWELLS, Exercise, Note
from evenhand.music.text import note_text

Key = tuple[str, ...]

_SWAP = str.maketrans("RLrl", "LRlr")


@dataclass(frozen=True, slots=True)
class Equivalence:
    """How one exercise becomes another: swap the hands or not, then begin so many notes later."""

    notes_later: int
    hands_swapped: bool


def canonical(exercise: Exercise, *, rotation: bool = True, swap: bool = True) -> Key:
    """Return a key that two exercises share if, and only if, they are the same.

    Parameters
    ----------
    exercise : Exercise
        What is written; meter and bar lines do not count.
    rotation : bool
        Whether it stays the same when the repeat begins at another note.
    swap : bool
        Whether it stays the same when the hands are swapped.

    >>> from evenhand.music.text import parse_exercise
    >>> canonical(parse_exercise("1/16: RLRR LRLL")) == canonical(parse_exercise("1/16: RRLR LLRL"))
    True
    """
    forms = [_tokens(exercise)]
    if swap:
        forms.append(_swapped(forms[0]))
    if rotation:
        forms = [_rotated(form, least_rotation(form)) for form in forms]
    return min(forms)


def same_groups(
    entries: Sequence[Entry], *, rotation: bool = True, swap: bool = True
) -> tuple[tuple[int, ...], ...]:
    """Group the entries that are the same exercise; those that stand alone are left out.

    Returns
    -------
    tuple of tuple of int
        Indices into ``entries``, rising within a group, the groups by their first.
    """
    groups: dict[Key, list[int]] = {}
    for index, entry in enumerate(entries):
        key = canonical(entry.exercise, rotation=rotation, swap=swap)
        groups.setdefault(key, []).append(index)
    return tuple(tuple(group) for group in groups.values() if len(group) > 1)


def turn_between(
    first: Exercise, other: Exercise, *, rotation: bool = True, swap: bool = True
) -> Equivalence | None:
    """Say how the first becomes the other; None if they are not the same.

    Of several ways that with the fewest notes later, then that without a swap.

    >>> from evenhand.music.text import parse_exercise
    >>> turn_between(parse_exercise("1/16: RLRR LRLL"), parse_exercise("1/16: RRLR LLRL"))
    Equivalence(notes_later=2, hands_swapped=False)
    """
    if len(first.notes) != len(other.notes):
        return None
    letters: dict[str, str] = {}
    sought, tokens = _spelled(_tokens(other), letters), _tokens(first)
    ways: list[Equivalence] = []
    for swapped in (False, True) if swap else (False,):
        spelled = _spelled(_swapped(tokens) if swapped else tokens, letters)
        notes_later = (spelled * 2 if rotation else spelled).find(sought)
        if notes_later >= 0:
            ways.append(Equivalence(notes_later, swapped))
    return min(ways, key=lambda way: (way.notes_later, way.hands_swapped), default=None)


def least_rotation(tokens: Sequence[str]) -> int:
    """Return where the least rotation of a circle of tokens begins.

    Two candidates are read side by side; where they differ, the greater and all those it
    passed over are out. Each step rules one out or reads on, so there are at most 3 n steps.

    >>> least_rotation("banana")
    5
    """
    n, one, two, read = len(tokens), 0, 1, 0
    while one < n and two < n and read < n:
        left, right = tokens[(one + read) % n], tokens[(two + read) % n]
        if left == right:
            read += 1
            continue
        if left > right:
            one = max(one + read + 1, two)
            two = one + 1
        else:
            two += read + 1
        read = 0
    return min(one, two)


def _rotated(tokens: Key, start: int) -> Key:
    return tokens[start:] + tokens[:start]


def _tokens(exercise: Exercise) -> Key:
    """Write each note as one token that says all of it."""
    return tuple([_token(note) for note in exercise.notes])


def _token(note: Note) -> str:
    dynamic = DYNAMICS.index(note.dynamic) if note.dynamic else ""
    swell = SWELLS.index(note.swell) if note.swell else ""
    return f"{note.value.numerator}/{note.value.denominator}:{note_text(note)}!{dynamic}!{swell}"


def _swapped(tokens: Key) -> Key:
    """Swap the hands, graces too: no other sign of a token is such a letter."""
    return tuple(" ".join(tokens).translate(_SWAP).split(" "))


def _spelled(tokens: Key, letters: dict[str, str]) -> str:
    """Spell tokens as text, one character each, so that the search in it is the language's own."""
    return "".join([letters.setdefault(token, chr(0xE000 + len(letters))) for token in tokens])


UpTo = Literal["none", "swap", "rotation", "rotation-reversal", "rotation-swap"]

Codes = NDArray[np.uint32]
Keys = NDArray[np.uint64]


def rotated(codes: Codes, n: int, by: int) -> Codes:
    """Begin ``by`` notes later (0 <= by < n), what was left out coming last.

    Parameters
    ----------
    codes
        Stickings of n notes, shape (m,).

    Returns
    -------
    Of shape (m,).

    >>> [f"{code:04b}" for code in rotated(np.array([0b0111], np.uint32), 4, 1)]
    ['1110']
    """
    if not by:
        return codes
    turned: Codes = ((codes << by) | (codes >> (n - by))) & (2**n - 1)
    return turned


def reversed_order(codes: Codes, n: int) -> Codes:
    """Read from the last note to the first.

    Parameters
    ----------
    codes
        Stickings of n notes, shape (m,).

    Returns
    -------
    Of shape (m,).
    """
    back = np.zeros_like(codes)
    for at in range(n):
        back |= ((codes >> at) & 1) << (n - 1 - at)
    return back


def swapped(codes: Codes, n: int) -> Codes:
    """Give each note to the other hand.

    Parameters
    ----------
    codes
        Stickings of n notes, shape (m,).

    Returns
    -------
    Of shape (m,).
    """
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

    Returns
    -------
    Places in the arrays, rising, shape (n_classes,).
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
