"""Read a whole number that somebody typed, or wrote into an address."""

from __future__ import annotations

MOST_DIGITS = 6


def whole_number(text: str, most_digits: int = MOST_DIGITS) -> int | None:
    """Return a whole number from 0; None where it is none, or has more digits than anything here counts.

    >>> whole_number("12"), whole_number("9" * 5000), whole_number("٣"), whole_number("")
    (12, None, None, None)
    """
    if not text.isascii() or not text.isdecimal() or len(text) > most_digits:
        return None
    return int(text)
