"""Files of music from other programs, opened and unpacked with care: MusicXML, packed or not, and MIDI.

What a file is, is told from its first bytes and not from its name. Nothing is written to disk.
"""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from pathlib import Path
from xml.parsers import expat

from evenhand.application.import_score import ScoreFile
from evenhand.errors import UnreadableScore

MOST_BYTES = 32 << 20  # of the file, and of what it unpacks to
MOST_PACKED = 1000  # files inside
_CONTAINER = "META-INF/container.xml"
_GIVE = "It must be MusicXML (.musicxml, .xml, .mxl) or a Standard MIDI File (.mid)."
_AGAIN = "Export it again."


def open_score(path: Path) -> ScoreFile:
    """Open one file of music.

    Raises
    ------
    UnreadableScore
        Where it cannot be opened, is too large, or is neither.
    """
    content = _content(path)
    if not content:
        raise UnreadableScore(name=path.name, got="an empty file", do=_AGAIN)
    if content.startswith(b"PK\x03\x04"):
        content = _unpacked(path, content)
    if content.startswith((b"MThd", b"RIFF")):
        return ScoreFile(path.name, "midi", content)
    if _is_xml(content):
        return ScoreFile(path.name, "musicxml", content)
    kind = "text" if _is_text(content[:4096]) else "no music that can be read"
    raise UnreadableScore(name=path.name, got=f"{kind}, whatever its name says", do=_GIVE)


def _content(path: Path) -> bytes:
    """Read a regular file, not more of it than a score may have."""
    try:
        if path.is_dir():
            raise UnreadableScore(name=path.name, got="a folder", do="Name the files in it.")
        if not stat.S_ISREG(path.stat().st_mode):
            raise UnreadableScore(name=path.name, got="no regular file", do=_GIVE)
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
    raise UnreadableScore(name=path.name, got="a packed file without a score in it", do=_GIVE)


def _first_root(container: bytes) -> str:
    """Return the first file that a container names, empty where it names none."""
    found: list[str] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(" ")[2] == "rootfile":
            found.append(attributes.get("full-path", ""))

    def refuse(*_: object) -> None:
        raise ValueError("a container needs no entities")

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = start
    parser.EntityDeclHandler = refuse
    try:
        parser.Parse(container, True)  # noqa: FBT003 - the parser's own way to say that this is all
    except expat.ExpatError:
        return ""
    return found[0] if found else ""


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


def _is_text(head: bytes) -> bool:
    try:
        text = head.decode("utf-8", errors="strict")
    except UnicodeDecodeError as error:
        text = head[: error.start].decode("utf-8") if error.start > len(head) - 4 else ""
    return bool(text) and all(char.isprintable() or char in "\r\n\t" for char in text)
