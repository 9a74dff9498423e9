"""Chapters in an mp3 file: the frames CHAP and CTOC of an ID3v2.3 tag, put before the sound.

As the ID3v2 Chapter Frame Addendum 1.0 (2005) and ID3v2.3.0 (1999) have it: sizes of frames are plain 32-bit
numbers, that of the tag has seven bits a byte; text is UTF-16 with its mark. Byte offsets are left out (all
ones), so times alone count.
"""

from __future__ import annotations

import shutil
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenhand.errors import WrongOptions
from evenhand.media.write import in_place

MOST_CHAPTERS = 255  # one byte counts them
_ORDERED_TOP = 0x03
_NO_OFFSET = 0xFFFFFFFF
_UTF16 = b"\x01"


@dataclass(frozen=True, slots=True)
class Chapter:
    """A part of a track with its title, in seconds from the file's first sample."""

    starts_s: float
    ends_s: float
    title: str


def add_chapters(path: Path, chapters: Sequence[Chapter]) -> None:
    """Put chapters into an mp3 file that has no tag yet; its sound stays as it is, byte for byte.

    Raises
    ------
    WrongOptions
        Where there are none, or too many to be counted.
    CannotWrite
        What the disk says.
    """
    if not 1 <= len(chapters) <= MOST_CHAPTERS:
        raise WrongOptions(got=f"{len(chapters)} chapters", must_be=f"1 to {MOST_CHAPTERS}")
    with in_place(path) as temporary, path.open("rb") as sound, temporary.open("wb") as file:
        file.write(chapter_tag(chapters))
        shutil.copyfileobj(sound, file)


def chapter_tag(chapters: Sequence[Chapter]) -> bytes:
    r"""Return the tag: a table of contents, then each chapter with its title.

    >>> chapter_tag([Chapter(0.0, 1.5, "Warm-up")])[:10]
    b'ID3\x03\x00\x00\x00\x00\x00Q'
    """
    names = [f"item{number}".encode() for number in range(1, len(chapters) + 1)]
    contents = b"toc\0" + bytes([_ORDERED_TOP, len(names)]) + b"".join(name + b"\0" for name in names)
    frames = _frame(b"CTOC", contents)
    for name, each in zip(names, chapters, strict=True):
        times = struct.pack(">4I", _ms(each.starts_s), _ms(each.ends_s), _NO_OFFSET, _NO_OFFSET)
        title = _frame(b"TIT2", _UTF16 + each.title.encode("utf-16"))
        frames += _frame(b"CHAP", name + b"\0" + times + title)
    return b"ID3\x03\x00\x00" + _seven_bits(len(frames)) + frames


def _frame(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack(">IH", len(body), 0) + body


def _ms(seconds: float) -> int:
    return round(1000 * seconds)


def _seven_bits(size: int) -> bytes:
    """Write a size in four bytes of seven bits."""
    return bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))
