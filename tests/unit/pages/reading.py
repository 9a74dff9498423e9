"""Reads a page as a browser would, strictly: tags in balance, drawings as XML, what refers to what."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

VOID = {"meta", "br", "hr", "img", "input", "link"}
SVG = "{http://www.w3.org/2000/svg}"
STROKE = re.compile(r"M(-?[\d.]+) (-?[\d.]+)l(-?[\d.]+) (-?[\d.]+)")


class Page(HTMLParser):
    """A page that has been read; ``ids`` in order, ``references`` as (tag, attribute, value)."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.source = text
        self.open: list[str] = []
        self.ids: list[str] = []
        self.tags: list[str] = []
        self.references: list[tuple[str, str, str]] = []
        self.described: list[str] = []
        self.said: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, f"never closed: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag, its ids and what it refers to."""
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attrs:
            assert value is not None, f"<{tag}> has {name} without a value"
            if name == "id":
                self.ids.append(value)
            elif name in {"aria-labelledby", "aria-describedby"}:
                self.described += value.split()
            elif name in {"src", "href", "xlink:href", "srcset", "poster", "action", "data"}:
                self.references.append((tag, name, value))

    def handle_endtag(self, tag: str) -> None:
        """Check that the tag closes what is open."""
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes something else"

    def handle_data(self, data: str) -> None:
        """Keep what is said."""
        if self.open and self.open[-1] != "style":
            self.said.append(data)

    @property
    def text(self) -> str:
        """All that is said, with plain spaces."""
        return " ".join(" ".join(self.said).replace("\N{NO-BREAK SPACE}", " ").split())

    def section(self, key: str) -> str:
        """Return the markup of one section."""
        found = re.search(rf'<section class="of-{key}".*?</section>', self.source, re.DOTALL)
        assert found is not None, f"no section {key}"
        return found[0]


def drawings(page: str) -> Iterator[ET.Element]:
    """Yield every outermost drawing of a page, read as XML."""
    depth, start = 0, 0
    for found in re.finditer(r"<svg\b|</svg>", page):
        if found[0] == "</svg>":
            depth -= 1
            if depth == 0:
                yield ET.fromstring(page[start : found.end()])
        else:
            if depth == 0:
                start = found.start()
            depth += 1
    assert depth == 0


def blocks(page: str, layout: str = "desk") -> list[ET.Element]:
    """Return the blocks of the folded picture in one layout."""
    return [each for each in drawings(page) if _title_id(each).startswith(f"{layout}-")]


def _title_id(drawing: ET.Element) -> str:
    title = drawing.find(f"{SVG}title")
    return "" if title is None else title.attrib.get("id", "")


def sticks(block: ET.Element, *, graces: bool = False) -> list[tuple[str, float, float, float, float]]:
    """Return every stick of a block: class, left x, first y, width, and rise (negative = rising)."""
    out = []
    for path in block.iter(f"{SVG}path"):
        kind = path.attrib.get("class", "")
        if kind in ({"r", "l", "r g", "l g"} if graces else {"r", "l"}):
            for found in STROKE.findall(path.attrib["d"]):
                x, y, width, rise = map(float, found)
                out.append((kind, x, y, width, rise))
    return out


def column_xs(block: ET.Element) -> list[float]:
    """Return where a block's thin lines stand."""
    line = next(path for path in block.iter(f"{SVG}path") if path.attrib.get("class") == "zero")
    return [float(x) for x in re.findall(r"M(-?[\d.]+) ", line.attrib["d"])]
