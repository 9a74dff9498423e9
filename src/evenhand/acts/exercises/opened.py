"""Files of music from other programs, opened and unpacked with care: MusicXML, packed or not, MIDI, and text.

What a file is, is told from its first bytes and not from its name. Nothing is written to disk.
"""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from evenhand.errors import UnreadableScore

MOST_BYTES = 32 << 20  # of the file, and of what it unpacks to
MOST_PACKED = 1000  # files inside
_CONTAINER = "META-INF/container.xml"
GIVE = "It must be MusicXML (.musicxml, .xml, .mxl), a Standard MIDI File (.mid) or stickings as text."
_PACKED, _MIDI = b"PK\x03\x04", (b"MThd", b"RIFF")
_PICTURES = {
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture (PNG)",
    b"\xff\xd8\xff": "a picture (JPEG)",
    b"GIF8": "a picture (GIF)",
    b"II*\0": "a picture (TIFF)",
    b"MM\0*": "a picture (TIFF)",
    b"BM": "a picture (BMP)",
}
_NO_PICTURES = (
    "Notes are not read off pages and pictures: export MusicXML where they were written, or type them."
)
_AGAIN = "Export it again."


@dataclass(frozen=True, slots=True)
class ScoreFile:
    """A file that was opened: its name, which of the three it is, and its content, unpacked."""

    name: str
    form: Literal["musicxml", "midi", "text"]
    content: bytes


def is_score(content: bytes) -> bool:
    """Tell a score, or a picture that will be refused as one, from text by how it begins."""
    return content.startswith((_PACKED, *_MIDI, *_PICTURES)) or _is_xml(content)


def open_score(path: Path) -> ScoreFile:
    """Open one file of music.

    Raises
    ------
    UnreadableScore
        Where it cannot be opened, is too large, or is none of these.
    """
    content = _content(path)
    if not content:
        raise UnreadableScore(name=path.name, got="an empty file", do=_AGAIN)
    packed = content.startswith(_PACKED)
    if packed:
        content = _unpacked(path, content)
    _refuse_pictures(path.name, content)
    if content.startswith(_MIDI):
        return ScoreFile(path.name, "midi", content)
    if _is_xml(content):
        return ScoreFile(path.name, "musicxml", content)
    from evenhand.media.refusals import is_text

    text = is_text(content[:4096])
    if text and not packed:
        return ScoreFile(path.name, "text", content)
    kind = "text" if text else "no music that can be read"
    raise UnreadableScore(name=path.name, got=f"{kind}, whatever its name says", do=GIVE)


def _refuse_pictures(name: str, content: bytes) -> None:
    """Say plainly that a PDF or a picture of notes is not read."""
    got = next((what for head, what in _PICTURES.items() if content.startswith(head)), "")
    if content.startswith(b"RIFF") and content[8:12] == b"WEBP":
        got = "a picture (WebP)"
    elif _is_xml(content) and b"<svg" in content[:1000] and b"<score-" not in content[:1000]:
        got = "a picture (SVG)"
    if got:
        raise UnreadableScore(name=name, got=got, do=_NO_PICTURES)


def _content(path: Path) -> bytes:
    """Read a regular file, not more of it than a score may have."""
    try:
        if path.is_dir():
            raise UnreadableScore(name=path.name, got="a folder", do="Name the files in it.")
        if not stat.S_ISREG(path.stat().st_mode):
            raise UnreadableScore(name=path.name, got="no regular file", do=GIVE)
        with path.open("rb") as opened:
            content = opened.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableScore(
            name=path.name, got="there is no such file", do="Check the name and the folder."
        ) from None
    except (OSError, ValueError) as error:
        got = f"cannot be opened ({getattr(error, 'strerror', None) or error})"
        raise UnreadableScore(name=path.name, got=got, do="Check the disk and who may read it.") from None
    if len(content) > MOST_BYTES:
        raise _too_large(path)
    return content


def _unpacked(path: Path, content: bytes) -> bytes:
    """Take the score out of a packed file."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if len(packed.infolist()) > MOST_PACKED:
                raise _too_large(path)
            return _part(path, packed, _root_name(path, packed))
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError, ValueError):
        raise UnreadableScore(
            name=path.name, got="a packed score that is damaged or cut off", do=_AGAIN
        ) from None


def _root_name(path: Path, packed: zipfile.ZipFile) -> str:
    """Find the score among the packed files: the container names it, else the first that looks like one."""
    names = packed.namelist()
    if _CONTAINER in names:
        named = _first_root(_part(path, packed, _CONTAINER))
        if named in names:
            return named
    for name in names:
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF/"):
            return name
    raise UnreadableScore(name=path.name, got="a packed file without a score in it", do=GIVE)


def _first_root(container: bytes) -> str:
    """Return the first file that a container names, empty where it names none."""
    from evenhand.music.formats.musicxml.tree import NoXml, parse_xml

    try:
        root = next(parse_xml(container).iter("rootfile"), None)
    except NoXml:
        return ""
    return "" if root is None else root.get("full-path", "")


def _part(path: Path, packed: zipfile.ZipFile, name: str) -> bytes:
    """Unpack one file, not more of it than a score may have, whatever its header says."""
    with packed.open(name) as opened:
        content = opened.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise _too_large(path)
    return content


def _too_large(path: Path) -> UnreadableScore:
    got = f"larger than {MOST_BYTES >> 20} MB"
    return UnreadableScore(name=path.name, got=got, do="Export the drum part alone.")


def _is_xml(content: bytes) -> bool:
    """Tell XML by how it begins, in any of its usual codes."""
    head = content[:64].removeprefix(b"\xef\xbb\xbf").lstrip()
    return head.startswith((b"<", b"\xff\xfe<\0", b"\xfe\xff\0<", b"<\0", b"\0<"))
