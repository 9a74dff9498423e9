"""MusicXML text -> a tree, with care: the file may come from anywhere.

No entity is ever defined, nothing outside the file is read, depth and size are limited. Namespaces are taken
off the names.
"""

from __future__ import annotations

import re
from fractions import Fraction
from xml.etree import ElementTree as ET
from xml.parsers import expat

from evenhand.music.formats.passages import Reading

MOST_BYTES = 32 << 20
TYPES = {
    0: "breve", 1: "whole", 2: "half", 4: "quarter", 8: "eighth",
    16: "16th", 32: "32nd", 64: "64th", 128: "128th",
}  # fmt: skip
DEEPEST = 64
MOST_ELEMENTS = 2_000_000
_NUMBER = re.compile(r"\s*(\d{1,9}(?:\.\d{1,9})?)\s*", re.ASCII)
_AGAIN = "Export it again as MusicXML."
_BROKEN_OFF = {3, 5, 6}  # the parser's codes: no element found, unclosed token, partial character


class BadXml(ValueError):
    """XML that is made to do harm; its text says how, for a person."""


class NoXml(BadXml):
    """What is no XML at all, or breaks off."""


class _Builder:
    """Builds the tree while the parser reads, and stops where a limit is passed."""

    def __init__(self) -> None:
        self.tree = ET.TreeBuilder()
        self.depth = self.elements = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.elements += 1
        if self.depth > DEEPEST or self.elements > MOST_ELEMENTS:
            raise BadXml("XML that is nested or filled beyond what a score needs")
        self.tree.start(_local(name), attributes)

    def end(self, name: str) -> None:
        self.depth -= 1
        self.tree.end(_local(name))


def read_tree(content: bytes, reading: Reading) -> ET.Element:
    """Parse a score; return its root with parts that hold measures.

    Raises
    ------
    UnreadableScore
        Where it is no XML, no score, or made to do harm.
    """
    if len(content) > MOST_BYTES:
        raise reading.refuse(f"larger than {MOST_BYTES >> 20} MB", "Export the drum part alone.")
    try:
        return _by_parts(parse_xml(content), reading)
    except BadXml as bad:
        raise reading.refuse(str(bad), _AGAIN) from None


def parse_xml(content: bytes) -> ET.Element:
    """Parse XML that may come from anywhere; names lose their namespaces.

    Raises
    ------
    BadXml
        Where it defines entities, or is nested or filled beyond the limits; ``NoXml`` where it is none.
    """
    builder = _Builder()
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.tree.data
    parser.EntityDeclHandler = _no_entities
    try:
        parser.Parse(content, True)  # noqa: FBT003 - the parser's own way to say that this is all
        return builder.tree.close()
    except BadXml:
        raise
    except (expat.ExpatError, ValueError, LookupError, AssertionError) as error:
        raise NoXml(f"no XML that can be read ({_reason(error)})") from None


def text_of(element: ET.Element, path: str) -> str:
    """Return the text at a path on one line, empty where there is none."""
    return " ".join((element.findtext(path) or "").split())


def number_of(text: str | None) -> Fraction | None:
    """Read a plain number, such as 12 or 1.5; None for anything else.

    >>> number_of("1.5"), number_of("1e99")
    (Fraction(3, 2), None)
    """
    found = _NUMBER.fullmatch(text or "")
    return Fraction(found[1]) if found else None


def whole_number_of(text: str | None) -> int | None:
    """Read a plain whole number; None for anything else."""
    number = number_of(text)
    return int(number) if number is not None and number.denominator == 1 else None


def _no_entities(*_: object) -> None:
    raise BadXml("XML that defines entities of its own, as no score does")


def _local(name: str) -> str:
    return name.rpartition(" ")[2]


def _reason(error: Exception) -> str:
    """Say what the parser said."""
    if isinstance(error, expat.ExpatError):
        if error.code in _BROKEN_OFF:
            return f"it breaks off in line {error.lineno}"
        return f"line {error.lineno}: {expat.ErrorString(error.code)}"
    return "its letters are in a code that is not known"


def _by_parts(root: ET.Element, reading: Reading) -> ET.Element:
    """Bring a score that is ordered by measures into one ordered by parts."""
    if root.tag == "score-partwise":
        return root
    if root.tag != "score-timewise":
        raise reading.refuse(f"XML, but no MusicXML score (it holds <{root.tag[:40]}>)", _AGAIN)
    turned = ET.Element("score-partwise")
    turned.extend(child for child in root if child.tag != "measure")
    parts: dict[str, ET.Element] = {}
    for measure in root.iterfind("measure"):
        for part in measure.iterfind("part"):
            name = part.get("id", "")
            if name not in parts:
                parts[name] = ET.SubElement(turned, "part", {"id": name})
            ET.SubElement(parts[name], "measure", measure.attrib).extend(part)
    return turned
