"""An engraved exercise: SVG lines whose notes' places are known, so that a chart can stand under them.

All lines of an engraved exercise as one SVG document that stands on its own.

Its ink is a fixed colour, so that programs which know no ``currentColor`` from outside
show it; its words for a screen reader are its title and description.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from evenhand.music.engraving.stems import escaped, number


@dataclass(frozen=True, slots=True)
class EngravedNote:
    """Where a note's head stands, in the line's own units from its left and top edge."""

    position: int
    x: float
    grace_x: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class EngravedLine:
    """One line of music. ``svg`` is a complete ``<svg>`` element with viewBox 0 0 width height.

    ``notes`` holds struck notes and rests in order; ``end_x`` is the closing bar line's place.
    """

    svg: str
    width: float
    height: float
    notes: tuple[EngravedNote, ...]
    end_x: float


@dataclass(frozen=True, slots=True)
class EngravedExercise:
    """The lines of music of one exercise."""

    lines: tuple[EngravedLine, ...]


INK = "#1c1b18"
MARGIN_PX = 12.0
BETWEEN_PX = 8.0  # one line's foot to the next one's top
_LABEL = re.compile(r' aria-label="([^"]*)"')


def whole_svg(engraved: EngravedExercise, *, title: str = "", background: str | None = None) -> str:
    """Return an engraved exercise as one SVG document, its lines one under another.

    Parameters
    ----------
    engraved : EngravedExercise
        With at least one line.
    title : str
        Its name, for a screen reader and a window's title; not drawn.
    background : str, optional
        A colour as SVG writes it; without it the ground is clear.

    Returns
    -------
    str
        An XML document; the same input gives the same bytes.
    """
    width = max(line.width for line in engraved.lines) + 2 * MARGIN_PX
    parts: list[str] = []
    y = MARGIN_PX
    for line in engraved.lines:
        inside = line.svg[line.svg.index(">") + 1 : line.svg.rindex("</svg>")]
        parts.append(f'<g transform="translate({number(MARGIN_PX)} {number(y)})">{inside}</g>')
        y += line.height + BETWEEN_PX
    w, h = number(width), number(y - BETWEEN_PX + MARGIN_PX)
    ground = f'<rect width="{w}" height="{h}" fill="{_plain(background)}"/>' if background else ""
    name = _plain(title) or "Exercise"
    described = " ".join(label for line in engraved.lines for label in _LABEL.findall(line.svg)[:1])
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}" role="img"'
        f' aria-labelledby="name words" fill="{INK}">'
        f'<title id="name">{name}</title><desc id="words">{described}</desc>'
    )
    return "".join([head, ground, *parts, "</svg>\n"])


def _plain(text: str) -> str:
    """Make a text safe to write, without what XML cannot hold."""
    return escaped("".join(char for char in text if char.isprintable()))
