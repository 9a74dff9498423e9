"""Scores for tests, written by hand after the MusicXML 4.0 reference; and how they are packed."""

from __future__ import annotations

import io
import zipfile

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">'
)
PERCUSSION = "<clef><sign>percussion</sign></clef>"
FOUR_FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"


def a_score(*measures: str, title: str = "", doctype: str = DOCTYPE, name: str = "Snare") -> bytes:
    """Give a score of one part; each measure is what stands in it."""
    numbered = "".join(f'<measure number="{k}">{each}</measure>' for k, each in enumerate(measures, start=1))
    head = f"<work><work-title>{title}</work-title></work>" if title else ""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{doctype}<score-partwise version="4.0">{head}'
        f'<part-list><score-part id="P1"><part-name>{name}</part-name></score-part></part-list>'
        f'<part id="P1">{numbered}</part></score-partwise>'
    ).encode()


def attributes(divisions: int = 4, time: str = FOUR_FOUR, clef: str = PERCUSSION) -> str:
    """Give what opens a part."""
    return f"<attributes><divisions>{divisions}</divisions>{time}{clef}</attributes>"


def a_note(
    duration: int,
    kind: str = "",
    lyric: str = "",
    *,
    inside: str = "",
    after: str = "",
    voice: int = 1,
    pitch: str = "<unpitched/>",
) -> str:
    """Give a note; ``inside`` stands before its type, ``after`` behind it (dots, tuplets, notations)."""
    typed = f"<type>{kind}</type>" if kind else ""
    words = f"<lyric><syllabic>single</syllabic><text>{lyric}</text></lyric>" if lyric else ""
    length = f"<duration>{duration}</duration>"
    return f"<note>{pitch}{length}{inside}<voice>{voice}</voice>{typed}{after}{words}</note>"


def a_rest(duration: int, voice: int = 1) -> str:
    """Give a rest."""
    return f"<note><rest/><duration>{duration}</duration><voice>{voice}</voice></note>"


def notes(letters: str, duration: int = 1, kind: str = "16th") -> str:
    """Give notes of one length with a letter under each; ``-`` is a rest."""
    each = (a_rest(duration) if letter == "-" else a_note(duration, kind, letter) for letter in letters)
    return "".join(each)


def words(text: str, *, tag: str = "words") -> str:
    """Give words in the bar."""
    return f"<direction><direction-type><{tag}>{text}</{tag}></direction-type></direction>"


def packed(files: dict[str, bytes]) -> bytes:
    """Pack files as a compressed score is."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def a_container(full_path: str) -> bytes:
    """Give the container file that names a packed score."""
    root = f'<rootfile full-path="{full_path}" media-type="application/vnd.recordare.musicxml+xml"/>'
    return f'<?xml version="1.0"?><container><rootfiles>{root}</rootfiles></container>'.encode()
