"""Ticks -> written values: read off where a program wrote them, else moved to the grid that fits best.

Conventions: times and values are fractions of a whole note from a passage's start, as floats until they are
``Fraction``; an error is how far a note was moved, as a fraction of a whole note.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

GRIDS = tuple(Fraction(1, bottom) for bottom in (4, 8, 12, 16, 20, 24, 28, 32, 48, 64))
WORST_FIT = 0.15  # of the grid, rms; notes that keep to no grid give 0.29 (1 / sqrt(12))
MOST_OFFSET = 1 / 6  # of the grid; farther off, notes may as well be early ones of the next place
_ODD = (1, 3, 5, 7, 9)
_FINEST = 192
_DENOMINATORS = sorted(
    odd << power for odd in _ODD for power in range(8) if odd << power <= (128 if odd == 1 else _FINEST)
)


@dataclass(frozen=True, slots=True)
class Span:
    """A note (``index`` of its stroke) or a rest (None) to be written, and where it ends."""

    index: int | None
    end: Fraction  # by the file, from the passage's start


def written_values(spans: Iterable[Span], tolerance: Fraction) -> list[Fraction] | None:
    """Return each span's value where all can be read off within the tolerance, else None.

    Each begins where the one before it exactly ends, so that roundings do not add up.
    """
    at = Fraction(0)
    values: list[Fraction] = []
    for span in spans:
        value = _simplest(span.end - at, tolerance)
        if value is None:
            return None
        values.append(value)
        at += value
    return values


def _simplest(length: Fraction, tolerance: Fraction) -> Fraction | None:
    """Return the value that a length is, else the plainest near it.

    >>> _simplest(Fraction(69, 1920), Fraction(1, 1920)), _simplest(Fraction(70, 1920), Fraction(1, 1920))
    (Fraction(1, 28), Fraction(7, 192))
    """
    if length > 0 and length.denominator in _DENOMINATORS:
        return length
    for denominator in _DENOMINATORS:
        count = round(length * denominator)
        if count > 0 and abs(Fraction(count, denominator) - length) <= tolerance:
            return Fraction(count, denominator)
    return None


@dataclass(frozen=True, slots=True)
class Fitted:
    """Onsets moved to a grid: ``steps`` counts grid steps from the passage's start.

    ``offset`` is how far after the grid they lie as a whole (a constant of the recording); ``moved`` is what
    each was moved by beside that, and ``fit`` its rms over the grid.
    """

    grid: Fraction
    steps: tuple[int, ...]
    offset: float
    moved: tuple[float, ...]
    fit: float


def fitted(onsets: Sequence[float]) -> Fitted | None:
    """Return the grid that onsets keep to best, no two on one place; None where every grid is too coarse.

    A grid twice as fine halves no error, so that the coarsest of those that fit comes out.
    """
    found: Fitted | None = None
    for grid in GRIDS:
        step = float(grid)
        offset = _offset(onsets, step)
        steps = tuple(round((onset - offset) / step) for onset in onsets)
        if any(after <= before for before, after in pairwise(steps)):
            continue
        offset = sum(onset - at * step for at, onset in zip(steps, onsets, strict=True)) / len(steps)
        moved = tuple(at * step - (onset - offset) for at, onset in zip(steps, onsets, strict=True))
        fit = math.sqrt(sum(each * each for each in moved) / len(moved)) / step
        if found is None or fit < found.fit:
            found = Fitted(grid, steps, offset, moved, fit)
    return found


def _offset(onsets: Sequence[float], step: float) -> float:
    """Return about where onsets lie in the grid: their circular mean, or 0 where that is too far to tell."""
    turns = sum((cmath.exp(2j * math.pi * onset / step) for onset in onsets), 0j)
    offset = cmath.phase(turns) / (2 * math.pi) * step
    return offset if abs(offset) <= MOST_OFFSET * step else 0.0
