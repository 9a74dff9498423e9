"""What stands at a MusicXML note: its sticking, its signs, and what has no place in exercise text.

Stickings in MusicXML: it has none of its own, so programs put the letters where they can. Lyrics come first,
then fingerings and other technical signs at the note. Words in the bar are for whoever knows which notes
follow them. Element names are those of the W3C's MusicXML 4.0.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from xml.etree import ElementTree as ET

from evenhand.music.exercise import DYNAMICS, Dynamic, Sound, Swell
from evenhand.music.formats.hands import Letters, read_letters
from evenhand.music.formats.passages import Reading, Signs

_AT_NOTE = ("fingering", "other-technical", "pluck")
_GROUPS = ("articulations", "ornaments", "technical")
_READ = {"accent", "strong-accent", "tremolo", "tied", "tuplet", "dynamics", *_AT_NOTE}
_PLAIN_HEADS = {"", "normal", "slash", "none"}
_HEADS: Mapping[str, Sound] = {"x": "cross", "cross": "cross", "circle-x": "rim"}
_CRESCENDO, _DIMINUENDO = {"crescendo", "cresc"}, {"diminuendo", "dim", "decrescendo", "decresc"}
_JUMPS = ("dacapo", "dalsegno", "segno", "coda", "tocoda", "fine")


def spoken(tag: str) -> str:
    """Say an element's name as words: ``breath-mark``, a breath mark."""
    return tag.replace("-", " ")


def lyric_lines(note: ET.Element) -> list[str]:
    """Return the texts of a note's lyrics, those that are called a sticking first."""
    lyrics = sorted(note.iterfind("lyric"), key=_line)
    return ["".join(part.text or "" for part in lyric.iterfind("text")) for lyric in lyrics]


def _line(lyric: ET.Element) -> tuple[bool, str]:
    return lyric.get("name") != "sticking", lyric.get("number", "1")


def letters_at(note: ET.Element) -> Letters | None:
    """Find the letters that a note itself carries."""
    return next(_all_letters(note), None)


def _all_letters(note: ET.Element) -> Iterator[Letters]:
    """Give what each line of lyrics says of the hand, then the technical signs."""
    for text in lyric_lines(note):
        if found := read_letters(text):
            yield found
    for technical in note.iterfind("notations/technical"):
        for child in technical:
            if child.tag in _AT_NOTE and (found := read_letters(child.text or "")):
                yield found


def second_letters(note: ET.Element, first: Letters | None) -> Letters | None:
    """Return a second line of letters that says another hand than the first."""
    one_each = (each for each in _all_letters(note) if len(each.hands) == 1 and not each.both)
    plain = first is not None and len(first.hands) == 1 and not first.both
    return next((each for each in one_each if plain and first and each.hands != first.hands), None)


def signs_at(note: ET.Element, *, one_drum: bool, reading: Reading) -> Signs:
    """Read a struck note's signs; what cannot be written is said to be left out."""
    left_out(note, reading)
    marks = {child.tag for child in note.iterfind("notations/articulations/*")}
    signs = Signs(accent=bool(marks & {"accent", "strong-accent"}), strong="strong-accent" in marks)
    signs.dynamic = dynamic_in(note.find("notations/dynamics"), reading)
    head = note.find("notehead")
    if head is not None:
        signs.ghost = head.get("parentheses") == "yes"
        shape = (head.text or "").strip()
        if one_drum and shape in _HEADS:
            signs.sound = _HEADS[shape]
        elif shape not in _PLAIN_HEADS:
            reading.warn(f"heads of another shape ({spoken(shape)}) were read as plain ones")
    return signs


def left_out(note: ET.Element, reading: Reading) -> None:
    """Say what stands at a note and cannot be written."""
    for child in note.iterfind("notations/*"):
        for each in child if child.tag in _GROUPS else (child,):
            if each.tag not in _READ:
                reading.warn(f"{spoken(each.tag)} was left out")
            elif each.tag in _AT_NOTE and read_letters(each.text or "") is None:
                reading.warn(f"{spoken(each.tag)} that names no hand was left out")
    if any(text.strip() and read_letters(text) is None for text in lyric_lines(note)):
        reading.warn("lyrics that name no hand were left out")


def dynamic_in(element: ET.Element | None, reading: Reading) -> Dynamic | None:
    """Return the dynamic that an element holds; one that has no name in exercise text is left out."""
    found: Dynamic | None = None
    for child in () if element is None else element:
        name = next((each for each in DYNAMICS if each == child.tag), None)
        if name is None:
            reading.warn(f"the dynamic {(child.text or '').strip() or child.tag} was left out")
        found = name or found
    return found


def swell_in_words(text: str) -> Swell | None:
    """Read a swell that is written as a word: cresc., dim., decresc."""
    word = text.strip().casefold().removesuffix(".")
    return "cresc" if word in _CRESCENDO else "dim" if word in _DIMINUENDO else None


def jumps(sound: ET.Element | None, reading: Reading) -> None:
    """Say that jumps (da capo and the like) are not followed."""
    if sound is not None and any(name in sound.attrib for name in _JUMPS):
        reading.warn("jumps (da capo, dal segno, coda) were not followed")
