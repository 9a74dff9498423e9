"""What people typed, made fit for print: no control letters, no word wider than the page.

Conventions: text in, text out; nothing is cut off
but where a place is said to be short. A word without end may be broken at
marks that nobody sees (U+200B).
"""

from __future__ import annotations

import re
import unicodedata

LONGEST_WORD = 32
_PART = 16
_MAY_BREAK = "\u200b"
_ADDRESS = re.compile(r"https?://[^\s<>\"]+", re.IGNORECASE)


def one_line(text: str) -> str:
    r"""Return the text on one line.

    >>> one_line(" Mira\t Anselm\n")
    'Mira Anselm'
    """
    return " ".join(_word(word) for word in _printable(text).split())


def paragraphs(text: str) -> list[str]:
    """Return the lines that say something."""
    return [line for line in map(one_line, text.splitlines()) if line]


def shortened(text: str, letters: int) -> str:
    """Return the text, or as much of it as fits.

    >>> shortened("Triplets from both sides", 12)
    'Triplets fr…'
    """
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def is_address(text: str) -> bool:
    """Tell whether a text is an address of the web.

    >>> is_address("https://studio.example/mira"), is_address("javascript:alert(1)")
    (True, False)
    """
    return bool(_ADDRESS.fullmatch(text)) and _printable(text) == text


def _printable(text: str) -> str:
    """Take out control letters and halves of letters; all kinds of space become plain ones."""
    kinds = ((letter, unicodedata.category(letter)) for letter in text)
    return "".join(
        " " if letter.isspace() else letter
        for letter, kind in kinds
        if letter.isspace() or kind not in {"Cc", "Cs"}
    )


def _word(word: str) -> str:
    if len(word) <= LONGEST_WORD:
        return word
    return _MAY_BREAK.join(word[at : at + _PART] for at in range(0, len(word), _PART))
