"""The properties that stickings are chosen by, each a question asked of many stickings at once.

Conventions: as in ``equivalence``: a sticking of n notes is a whole number of n bits, first note highest,
0 for R and 1 for L. "Around" counts the repeat as well: the last note is followed by the first. A run is a
stretch of notes by one hand; a pair is two neighbouring notes by one hand (a run of three holds two pairs).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.music.equivalence import Codes, rotated, swapped
from evenhand.music.exercise import HAND_NAMES, Hand

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Ends = Literal["leading", "other"]


@dataclass(frozen=True, slots=True)
class Span:
    """A whole number from ``low`` to ``high``, or from ``low`` on."""

    low: int
    high: int | None = None

    def __str__(self) -> str:
        if self.high is None:
            return f"{self.low} or more"
        return f"{self.low}" if self.low == self.high else f"{self.low} to {self.high}"


@dataclass(frozen=True, slots=True)
class StickingQuery:
    """What is asked of a sticking of ``length`` notes; None where it may be anything.

    ``mirrored_halves``: the second half is the first with the hands swapped, so that the phrase leads with
    the other hand when it comes again. ``ends``: the last note is by the hand that leads (hand to hand, the
    repeat would then lead with the other) or by the other. ``weak_percent``: share of the weak hand's notes.
    """

    length: int
    longest_run: int | None = None
    around: bool = False
    balanced: bool = False
    lead: Hand | None = None
    ends: Ends | None = None
    mirrored_halves: bool = False
    pairs: Span | None = None
    rights: Span | None = None
    weak_percent: Span | None = None
    weak_hand: Hand = "L"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A whole number of each sticking, and how it is said: ``says("4")`` is "there are 4 rights"."""

    of: Callable[[Codes], Ints]
    says: Callable[[str], str]
    names: Mapping[int, str] = field(default_factory=dict)  # for numbers that stand for something else


@dataclass(frozen=True, slots=True)
class Property:
    """One thing asked: in words that follow "with", its test, and what is counted for it, if anything."""

    words: str
    holds: Callable[[Codes], Bools]
    quantity: Quantity | None = None
    never: str = ""  # why none of this length can have it, where that is plain


def asked(wanted: StickingQuery) -> tuple[Property, ...]:
    """List what is asked, property by property; those that hold a number last."""
    found = (
        _lead(wanted), _ends(wanted), _halves(wanted), _balance(wanted),
        _run(wanted), _pairs(wanted), _rights(wanted), _weak(wanted),
    )  # fmt: skip
    return tuple(each for each in found if each is not None)


def lefts(codes: Codes) -> Ints:
    """Count each sticking's left-hand notes.

    Parameters
    ----------
    codes
        Stickings, shape (m,).

    Returns
    -------
    Of shape (m,).
    """
    return np.bitwise_count(codes).astype(np.int64)


def pairs(codes: Codes, n: int, *, around: bool) -> Ints:
    """Count each sticking's pairs of neighbouring notes by one hand.

    Parameters
    ----------
    codes
        Stickings of n notes, shape (m,).

    Returns
    -------
    Of shape (m,).
    """
    changes = codes ^ (rotated(codes, n, 1) if around and n > 1 else codes >> 1)
    among = 2**n - 1 if around and n > 1 else 2 ** (n - 1) - 1
    return np.asarray(among.bit_count() - lefts(changes & among), dtype=np.int64)


def longest_run(codes: Codes, n: int, *, around: bool) -> Ints:
    """Return each sticking's longest run; around the repeat, one hand's alone has no end and counts n + 1.

    Parameters
    ----------
    codes
        Stickings of n notes, shape (m,).

    Returns
    -------
    Notes, shape (m,).
    """
    runs = np.ones(codes.shape, dtype=np.int64)
    for over in range(1, n + 1 if around else n):
        longer = run_over(codes, n, over, around=around)
        if not longer.any():
            break
        runs += longer
    return runs


def run_over(codes: Codes, n: int, most: int, *, around: bool) -> Bools:
    """Tell which stickings have a run of more than ``most`` notes.

    Parameters
    ----------
    codes
        Stickings of n notes, shape (m,).

    Returns
    -------
    Of shape (m,).
    """
    found = np.zeros(codes.shape, dtype=np.bool_)
    for of_one in (codes, swapped(codes, n)):
        left = of_one.copy()
        for by in range(1, most + 1):
            left &= rotated(of_one, n, by % n) if around else of_one >> np.uint32(by)
        found |= left != 0
    return found


def _first_is_left(codes: Codes, n: int) -> Bools:
    first: Bools = (codes >> (n - 1)) == 1
    return first


def _lead(wanted: StickingQuery) -> Property | None:
    if wanted.lead is None:
        return None
    n, left = wanted.length, wanted.lead == "L"
    return Property(
        f"the {HAND_NAMES[wanted.lead]} hand leading", lambda codes: _first_is_left(codes, n) == left
    )


def _ends(wanted: StickingQuery) -> Property | None:
    if wanted.ends is None:
        return None
    n, same = wanted.length, wanted.ends == "leading"
    whose = "the hand that leads" if same else "the hand that does not lead"
    return Property(
        f"the last note by {whose}",
        lambda codes: (_first_is_left(codes, n) == (codes & 1 == 1)) == same,
        never="the first note is the last" if n == 1 and not same else "",
    )


def _halves(wanted: StickingQuery) -> Property | None:
    if not wanted.mirrored_halves:
        return None
    half, odd = wanted.length // 2, wanted.length % 2 == 1
    return Property(
        "the second half the mirror of the first",
        lambda codes: (
            np.full(codes.shape, not odd) & ((codes >> half) ^ (codes & (2**half - 1)) == 2**half - 1)
        ),
        never="an odd number of notes has no halves" if odd else "",
    )


def _balance(wanted: StickingQuery) -> Property | None:
    if not wanted.balanced:
        return None
    n = wanted.length
    return Property(
        "as many rights as lefts",
        lambda codes: 2 * lefts(codes) == n,
        never="an odd number of notes cannot be shared evenly" if n % 2 else "",
    )


def _run(wanted: StickingQuery) -> Property | None:
    most, n, around = wanted.longest_run, wanted.length, wanted.around
    if most is None:
        return None
    turn = " around the repeat" if around else ""
    return Property(
        f"no run over {most}{turn}",
        lambda codes: ~run_over(codes, n, most, around=around),
        Quantity(
            lambda codes: longest_run(codes, n, around=around),
            lambda said: f"the longest run{turn} is {said}",
            {n + 1: "without end"} if around else {},
        ),
    )


def _pairs(wanted: StickingQuery) -> Property | None:
    if wanted.pairs is None:
        return None
    n, around, turn = wanted.length, wanted.around, " around the repeat" if wanted.around else ""
    return _counted(
        wanted.pairs,
        f"{wanted.pairs} {_one_or_many(str(wanted.pairs), 'pair')} by one hand{turn}",
        Quantity(
            lambda codes: pairs(codes, n, around=around),
            lambda said: f"there {_is(said)} {said} {_one_or_many(said, 'pair')} by one hand{turn}",
        ),
    )


def _rights(wanted: StickingQuery) -> Property | None:
    if wanted.rights is None:
        return None
    n, said = wanted.length, str(wanted.rights)
    return _counted(wanted.rights, f"{said} {_one_or_many(said, 'right')}", _notes_of("R", n))


def _weak(wanted: StickingQuery) -> Property | None:
    """Ask for a share of the weak hand, as a count of its notes."""
    if wanted.weak_percent is None:
        return None
    n, hand, share = wanted.length, wanted.weak_hand, wanted.weak_percent
    least = -(-share.low * n // 100)
    most = n if share.high is None else share.high * n // 100
    said = f"{share.low} % or more" if share.high is None else f"{share} %"
    words = f"{said} of the notes by the {HAND_NAMES[hand]} hand"
    return _counted(Span(least, most), words, _notes_of(hand, n))


def _notes_of(hand: Hand, n: int) -> Quantity:
    """Count one hand's notes."""
    return Quantity(
        lefts if hand == "L" else lambda codes: n - lefts(codes),
        lambda said: f"there {_is(said)} {said} {_one_or_many(said, HAND_NAMES[hand])}",
    )


def _counted(span: Span, words: str, quantity: Quantity) -> Property:
    """Ask for a number within a span."""

    def holds(codes: Codes) -> Bools:
        counts = quantity.of(codes)
        within = counts >= span.low
        return within if span.high is None else within & (counts <= span.high)

    return Property(words, holds, quantity)


def _one_or_many(said: str, word: str) -> str:
    return word if said == "1" else f"{word}s"


def _is(said: str) -> str:
    return "is" if said == "1" else "are"
