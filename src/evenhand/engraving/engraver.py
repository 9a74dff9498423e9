"""The notation engraver: one a thread, made when first needed, checked after every load.

Its font path is set for one thread only, so each toolkit is given its own; and it
takes broken input with no more than a log line, so what loading returned and what
was drawn are checked here.
"""

from __future__ import annotations

import threading
from functools import cache
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
