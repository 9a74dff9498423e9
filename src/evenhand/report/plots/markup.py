"""Small pieces of markup: elements, escaped text, short numbers, and the room that words may take.

Conventions: every text and attribute goes through ``esc``; a child of ``el`` is markup that has been made
already. Lengths are px of the drawing's own units. A picture's words do not flow, so where they stand is
worked out before they are drawn, for the widest usual face; the page's own face takes three quarters of it.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:ms|dB|s|min|bpm|%|Hz)(?!\w))|(?<==) (?=\d)| (?==\s)")
_VOID = frozenset({"meta", "br"})


def esc(text: object) -> str:
    """Return text safe in HTML, in SVG and inside a quoted attribute.

    >>> esc('a<b> & "c"')
    'a&lt;b&gt; &amp; &quot;c&quot;'
    """
    return html.escape(_NOT_TEXT.sub("\ufffd", str(text)), quote=True)


def prose(text: object) -> str:
    """Return text safe as ``esc`` does, its figures tied to their units so that no line breaks between.

    >>> prose("9 ms late").split(" ")[1:]
    ['late']
    """
    return esc(_BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", str(text)))


def px(value: float) -> str:
    """Write a length to a tenth, without needless zeros.

    >>> [px(v) for v in (12.0, 0.25, -0.04, 101.26)]
    ['12', '0.2', '0', '101.3']
    """
    whole = round(value * 10)
    if whole % 10 == 0:
        return str(whole // 10)
    return f"{whole / 10:.1f}"


def el(name: str, /, *children: str, **attributes: object) -> str:
    """Return an element; ``class_`` means class, ``aria_label`` aria-label, None is left out.

    >>> el("p", esc("a < b"), class_="note")
    '<p class="note">a &lt; b</p>'
    """
    inside = "".join(_attribute(key, value) for key, value in attributes.items() if value is not None)
    if name in _VOID:
        return f"<{name}{inside}>"
    return f"<{name}{inside}>{''.join(children)}</{name}>"


def _attribute(key: str, value: object) -> str:
    written = px(value) if isinstance(value, float) else esc(value)
    return f' {key.rstrip("_").replace("_", "-")}="{written}"'


def shortened(text: str, letters: int) -> str:
    """Return the text, or as much of it as fits.

    >>> shortened("Triplets from both sides", 12)
    'Triplets fr…'
    """
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def text_at(x: float, y: float, words: object, *, class_: str = "") -> str:
    """Return a piece of SVG text at a place."""
    return el("text", esc(words), x=float(x), y=float(y), class_=class_ or None)


def svg(size: tuple[float, float], *inside: str, **attributes: object) -> str:
    """Return a drawing of this width and height."""
    box = f"0 0 {px(size[0])} {px(size[1])}"
    return el("svg", *inside, xmlns="http://www.w3.org/2000/svg", viewBox=box, **attributes)


def picture(
    inside: Iterable[str],
    *,
    width: float,
    height: float,
    key: str,
    title: str,
    words: str,
    class_: str,
    stretch: float | None = None,
) -> str:
    """Return an ``<svg>`` that a screen reader reads as one image with a title and a description.

    It fills the room it is given, up to ``stretch`` times its own width.
    """
    return svg(
        (width, height),
        el("title", esc(title), id=f"{key}-title"),
        el("desc", esc(words), id=f"{key}-words"),
        *inside,
        role="img",
        aria_labelledby=f"{key}-title",
        aria_describedby=f"{key}-words",
        class_=class_,
        style=None if stretch is None else f"max-width:{width * stretch:.0f}px",
    )


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
