"""Which part of a MusicXML score to read: the percussion one, or the one that is named."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree as ET

from evenhand.engraving.musicxml_sticking import letters_at
from evenhand.engraving.musicxml_tree import text_of
from evenhand.engraving.passages import Reading


@dataclass(frozen=True, slots=True)
class Part:
    """A part: its id, its name for people, its measures, and what speaks for it."""

    id: str
    name: str
    measures: tuple[ET.Element, ...]
    percussion: bool
    stickings: int


def choose_part(root: ET.Element, reading: Reading, wanted: str | None) -> Part:
    """Return the part to read.

    Raises
    ------
    UnreadableScore
        Where there is none of that name, or no percussion part.
    """
    parts = _parts(root)
    if not parts:
        raise reading.refuse("a score without parts", "Export it again as MusicXML.")
    names = ", ".join(f"'{part.name}'" for part in parts[:8])
    if wanted is not None:
        for number, part in enumerate(parts, start=1):
            if wanted.strip().casefold() in {part.id.casefold(), part.name.casefold(), str(number)}:
                return part
        raise reading.refuse(f"no part '{wanted.strip()}' in it", f"Its parts are {names}.")
    fit = [part for part in parts if part.percussion or part.stickings]
    if not fit:
        raise reading.refuse(
            f"no percussion part and no stickings in it, only {names}",
            "Name a part with --part to take over its rhythm.",
        )
    best = max(fit, key=lambda part: (part.stickings, part.percussion))
    if len(fit) > 1:
        reading.warn(f"only the part '{best.name}' was read, of {len(fit)} for percussion")
    return best


def _parts(root: ET.Element) -> list[Part]:
    listed = {entry.get("id", ""): entry for entry in root.iterfind("part-list/score-part")}
    parts = []
    for element in root.iterfind("part"):
        entry = listed.get(element.get("id", ""))
        notes = list(element.iterfind("measure/note"))
        parts.append(
            Part(
                id=element.get("id", ""),
                name=_name(element, entry),
                measures=tuple(element.iterfind("measure")),
                percussion=_is_percussion(element, entry, notes),
                stickings=sum(letters_at(note) is not None for note in notes),
            )
        )
    return parts


def _name(element: ET.Element, entry: ET.Element | None) -> str:
    name = text_of(entry, "part-name") if entry is not None else ""
    return (name or element.get("id") or "?")[:60]


def _is_percussion(element: ET.Element, entry: ET.Element | None, notes: list[ET.Element]) -> bool:
    """Tell a percussion part by its notes, its clef, or its MIDI channel."""
    if any(note.find("unpitched") is not None for note in notes):
        return True
    if any(sign.text == "percussion" for sign in element.iterfind("measure/attributes/clef/sign")):
        return True
    channels = [] if entry is None else entry.findall("midi-instrument/midi-channel")
    return any((channel.text or "").strip() == "10" for channel in channels)
