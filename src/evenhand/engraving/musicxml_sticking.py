"""Stickings in MusicXML: it has none of its own, so programs put the letters where they can.

Lyrics come first, then fingerings and other technical signs at the note. Words in the bar are for whoever
knows which notes follow them.
"""

from __future__ import annotations

from xml.etree import ElementTree as ET

from evenhand.engraving.letters import Letters, read_letters

_AT_NOTE = ("fingering", "other-technical", "pluck")


def letters_at(note: ET.Element) -> Letters | None:
    """Find the letters that a note itself carries."""
    for lyric in sorted(note.iterfind("lyric"), key=lambda lyric: lyric.get("name") != "sticking"):
        found = read_letters("".join(part.text or "" for part in lyric.iterfind("text")))
        if found:
            return found
    for technical in note.iterfind("notations/technical"):
        for child in technical:
            if child.tag in _AT_NOTE and (found := read_letters(child.text or "")):
                return found
    return None
