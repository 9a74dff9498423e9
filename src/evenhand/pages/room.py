"""The room that words may take in a picture: enough for the widest face that may stand in for the page's own.

Conventions: px of the drawing's own units. A picture's words do not flow, so where they stand is reckoned
here before they are drawn. The page's face takes three quarters of this room, the widest usual one all of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

# Widths, of a letter's size, of the widest serif that machines commonly have (DejaVu Serif 2.37), rounded up.
_WIDTHS: Final = {"fijlrtI.,:;|!'’()[] -/ \N{NO-BREAK SPACE}": 0.4, "mwMW%@…—+=−±×<>≤≥": 1.0}
_EM: Final = {letter: em for letters, em in _WIDTHS.items() for letter in letters}
_LOWER_EM, _OTHER_EM, _BOLD = 0.65, 0.76, 1.12


def room_px(words: str, size_px: float, *, bold: bool = False) -> float:
    """Return how long words may be in any usual face.

    >>> round(room_px("what an ear can't tell", 10.0))
    119
    """
    em = sum(
        _EM.get(letter) or (_LOWER_EM if letter.islower() or letter.isdigit() else _OTHER_EM)
        for letter in words
    )
    return em * size_px * (_BOLD if bold else 1.0)


def lines_in(words: str, width_px: float, size_px: float, *, bold: bool = False) -> list[str]:
    """Break words at their spaces into lines that fit a width; one longer than that stays whole.

    >>> lines_in("rebound doubles", 80.0, 13.0)
    ['rebound', 'doubles']
    """
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and room_px(longer, size_px, bold=bold) > width_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def in_rows(widths: Sequence[float], width_px: float, gap_px: float) -> Iterator[tuple[float, int]]:
    """Lay things in rows: how far right each begins, and in which row.

    >>> list(in_rows([50, 60, 40], 120, 10))
    [(0.0, 0), (60.0, 0), (0.0, 1)]
    """
    x, row = 0.0, 0
    for width in widths:
        if x and x + width > width_px:
            x, row = 0.0, row + 1
        yield x, row
        x += width + gap_px
