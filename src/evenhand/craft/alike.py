"""Tell which exercises are the same: up to where the repeat begins, and up to which hand is which.

Conventions: an exercise is repeated, so that ``RLRR LRLL`` begun two notes later is
``RRLR LLRL``; with the hands swapped it is ``LRLL RLRR``. Note values, accents, graces,
buzzes and rests must agree; meter and bar lines say how it is written, and do not count.
``RL`` and ``RLRL`` differ in length, and are not the same here.

The key is the least rotation in the order of its tokens (Booth 1980, "Lexicographically
least circular substrings", Information Processing Letters 10:240-242; the two-pointer
form used here is from memory), so its cost is linear in the number of notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.domain.book import Entry
from evenhand.domain.exercise import Exercise, Note

Key = tuple[str, ...]

_SWAP = str.maketrans("RLrl", "LRlr")


@dataclass(frozen=True, slots=True)
class Turn:
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

    >>> from evenhand.craft.text import parse_exercise
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
) -> Turn | None:
    """Say how the first becomes the other; None if they are not the same.

    Of several ways that with the fewest notes later, then that without a swap.

    >>> from evenhand.craft.text import parse_exercise
    >>> turn_between(parse_exercise("1/16: RLRR LRLL"), parse_exercise("1/16: RRLR LLRL"))
    Turn(notes_later=2, hands_swapped=False)
    """
    if len(first.notes) != len(other.notes):
        return None
    letters: dict[str, str] = {}
    sought, tokens = _spelled(_tokens(other), letters), _tokens(first)
    ways: list[Turn] = []
    for swapped in (False, True) if swap else (False,):
        spelled = _spelled(_swapped(tokens) if swapped else tokens, letters)
        notes_later = (spelled * 2 if rotation else spelled).find(sought)
        if notes_later >= 0:
            ways.append(Turn(notes_later, swapped))
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
    signs = f"{'>' if note.accent else ''}{''.join(note.graces).lower()}{note.hand or '-'}"
    return f"{note.value.numerator}/{note.value.denominator}:{signs}{'~' if note.buzz else ''}"


def _swapped(tokens: Key) -> Key:
    """Swap the hands, graces too: no other sign of a token is such a letter."""
    return tuple(" ".join(tokens).translate(_SWAP).split(" "))


def _spelled(tokens: Key, letters: dict[str, str]) -> str:
    """Spell tokens as text, one character each, so that the search in it is the language's own."""
    return "".join([letters.setdefault(token, chr(0xE000 + len(letters))) for token in tokens])
