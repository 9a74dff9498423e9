"""Outlines of music glyphs, scaled and turned the page's way, as relative SVG path data.

Conventions: font units are 1/1000 em with y upwards; page units are px-like with y
downwards. An outline placed at a point is ``M x y`` and the relative data behind it,
so that many glyphs share one path element and no ids are needed.

The notation engraver: one a thread, made when first needed, checked after every load.

Its font path is set for one thread only, so each toolkit is given its own; and it
takes broken input with no more than a log line, so what loading returned and what
was drawn are checked here.
"""

from __future__ import annotations

import re
import threading
from functools import cache, lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from evenhand.errors import CannotEngrave

if TYPE_CHECKING:
    import verovio


FONT = "Bravura"
_OPTIONS = {
    "font": FONT,
    "breaks": "none",
    "header": "none",
    "footer": "none",
    "adjustPageWidth": True,
    "adjustPageHeight": True,
    "pageWidth": 100_000,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "spacingLinear": 0.1,
    "spacingNonLinear": 1.0,
    "svgFormatRaw": True,
    "mmOutput": True,  # leaves out a style sheet that takes as long as all the rest; coordinates stay
    "xmlIdSeed": 1,  # its own ids are not used; a seed keeps its bytes the same
}
_here = threading.local()


def draw_mei(mei: str) -> ET.Element:
    """Return the engraver's SVG for one MEI document, as a tree.

    Raises
    ------
    CannotEngrave
        Where the engraver refuses it or draws nothing.
    """
    toolkit = _toolkit()
    if not toolkit.loadData(mei):
        raise CannotEngrave(got="the engraver refused the music")
    svg = toolkit.renderToSVG(1)
    if not svg:
        raise CannotEngrave(got="the engraver drew nothing")
    return ET.fromstring(svg)  # noqa: S314 - drawn a line above, from our own MEI


def _toolkit() -> verovio.toolkit:
    """Return this thread's toolkit."""
    toolkit: verovio.toolkit | None = getattr(_here, "toolkit", None)
    if toolkit is None:
        import verovio

        toolkit = verovio.toolkit(False)  # noqa: FBT003 - its own name for "without a font path"
        toolkit.setResourcePath(str(files("verovio") / "data"))
        if not toolkit.setOptions(_OPTIONS):
            raise CannotEngrave(got="the engraver did not take its options")
        _here.toolkit = toolkit
    return toolkit


@cache
def glyph_boxes() -> dict[str, tuple[float, float, float, float]]:
    """Return each glyph's box in font units, by its code: left, bottom, width, height."""
    boxes = ET.fromstring((files("verovio") / "data" / f"{FONT}.xml").read_bytes())  # noqa: S314 - the wheel's own
    return {
        glyph.attrib["c"]: (
            float(glyph.attrib["x"]),
            float(glyph.attrib["y"]),
            float(glyph.attrib["w"]),
            float(glyph.attrib["h"]),
        )
        for glyph in boxes.iterfind("g")
    }


@cache
def glyph_outline(code: str) -> str:
    """Return a glyph's outline as SVG path data, in font units, y upwards."""
    glyph = ET.fromstring((files("verovio") / "data" / FONT / f"{code}.xml").read_bytes())  # noqa: S314 - the wheel's own
    return next(glyph.iter("path")).attrib["d"]


_COMMANDS = re.compile(r"([Mchlsvz])([^A-Za-z]*)")
_NUMBERS = re.compile(r"-?\d*\.?\d+")


def number(value: float) -> str:
    """Write a coordinate with two decimals at most.

    >>> number(12.0), number(-0.001), number(3.14159)
    ('12', '0', '3.14')
    """
    short = f"{value:.2f}"
    if short[-1] == "0":
        short = short[:-1] if short[-2] != "0" else short[:-3]
    return "0" if short == "-0" else short


def escaped(text: str) -> str:
    """Make words safe to stand in SVG, between tags and in quotes.

    >>> escaped('<"R&L">')
    '&lt;&quot;R&amp;L&quot;&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def placed(code: str, x: float, y: float, scale: float) -> str:
    """Return a glyph's outline with its origin at x, y; ``scale`` is px a font unit."""
    return f"M{number(x)} {number(y)}{_scaled(code, round(scale, 6))}"


def middle(code: str) -> float:
    """Return where a glyph's middle lies right of its origin, font units."""
    left, _, width, _ = glyph_boxes()[code]
    return left + width / 2


def bottom_and_top(code: str) -> tuple[float, float]:
    """Return how far a glyph reaches above its origin: lowest and highest, font units."""
    _, low, _, height = glyph_boxes()[code]
    return low, low + height


@lru_cache(maxsize=512)
def _scaled(code: str, scale: float) -> str:
    """Make an outline relative to its origin, px, y downwards.

    The font's outlines begin each contour with an absolute M; all else is relative.
    """
    parts: list[str] = []
    x = y = start_x = start_y = 0.0
    for command, values in _commands(glyph_outline(code)):
        step = values
        if command == "M":
            step = [values[0] - x, values[1] - y]
            start_x, start_y = values
        if command == "z":
            x, y = start_x, start_y
        else:
            x += 0.0 if command == "v" else step[-1 if command == "h" else -2]
            y += 0.0 if command == "h" else step[-1]
        parts.append(command.lower() + " ".join(number(value) for value in _page(command, step, scale)))
    return "".join(parts)


def _commands(outline: str) -> list[tuple[str, list[float]]]:
    """Split path data into commands with their numbers."""
    return [
        (command, [float(value) for value in _NUMBERS.findall(values)])
        for command, values in _COMMANDS.findall(outline)
    ]


def _page(command: str, step: list[float], scale: float) -> list[float]:
    """Scale a step and turn it over."""
    if command == "h":
        return [step[0] * scale]
    if command == "v":
        return [-step[0] * scale]
    return [value * (-scale if index % 2 else scale) for index, value in enumerate(step)]
