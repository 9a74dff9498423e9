"""Plain WAV, read without a decoder: the commonest recording, and the quickest to open.

PCM of 8 to 32 bit and floats, plain or extensible, are read here; whatever else the file holds
(compressed, RF64, an odd header) is left to the decoder. Every length is checked against the file.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from evenhand.media.stored import FORMS, OnDisk, Recording, Source, Stored, cut_off, fits_memory

MOST_CHUNKS = 256
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_FORMS = {
    (_PCM, 8): ("u8", "pcm_u8"),
    (_PCM, 16): ("s16", "pcm_s16le"),
    (_PCM, 24): ("s24", "pcm_s24le"),
    (_PCM, 32): ("s32", "pcm_s32le"),
    (_FLOAT, 32): ("flt", "pcm_f32le"),
    (_FLOAT, 64): ("dbl", "pcm_f64le"),
}
_SUBFORMAT_END = bytes.fromhex("000000001000800000aa00389b71")  # after the two bytes of the format's number
_LENGTHS_NEVER_FILLED_IN = (0, 0xFFFFFFFF, 0x7FFFFFFF, 0xFFFFFFDB, 0x7FFFF000)


@dataclass(frozen=True, slots=True)
class WavFormat:
    """What the ``fmt`` chunk says."""

    form: str
    codec: str
    channels: int
    rate_hz: int

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame."""
        return FORMS[self.form].size * self.channels


def read_wav(path: Path) -> Recording | None:
    """Read a plain WAV; None where it is not one, and the decoder should try."""
    file = path.open("rb")
    keep_open = False
    try:
        found = _find_chunks(file, os.fstat(file.fileno()).st_size)
        if found is None:
            return None
        fmt, start, stated, there = found
        frames = min(stated, there) // fmt.frame_bytes
        warnings = _length_warnings(fmt, stated, there)
        source: Source
        if fits_memory(fmt.form, frames * fmt.channels):
            source = _in_memory(file, fmt, start, frames)
        else:
            keep_open = True
            source = OnDisk(file, fmt.form, channels=fmt.channels, frames=frames, offset=start)
        return Recording(source, fmt.rate_hz, f"wav/{fmt.codec}", warnings)
    finally:
        if not keep_open:
            file.close()


def _in_memory(file: BinaryIO, fmt: WavFormat, start: int, frames: int) -> Stored:
    """Read all frames at once."""
    file.seek(start)
    got = file.read(frames * fmt.frame_bytes)
    frames = len(got) // fmt.frame_bytes
    raw = np.frombuffer(got, FORMS[fmt.form].dtype, frames * fmt.channels)
    return Stored(fmt.form, raw.reshape(frames, fmt.channels))


def _find_chunks(file: BinaryIO, file_bytes: int) -> tuple[WavFormat, int, int, int] | None:
    """Find format and data: the format, where the data begin, bytes stated, bytes that are there."""
    if file.read(12)[8:] != b"WAVE":
        return None
    fmt, at = None, 12
    for _ in range(MOST_CHUNKS):
        file.seek(at)
        head = file.read(8)
        if len(head) < 8:
            return None
        name, size = struct.unpack("<4sI", head)
        if name == b"fmt ":
            fmt = _read_format(file.read(min(size, 40)))
        elif name == b"data":
            there = file_bytes - at - 8
            stated = there if size in _LENGTHS_NEVER_FILLED_IN else size
            return None if fmt is None else (fmt, at + 8, stated, there)
        at += 8 + size + size % 2
    return None


def _read_format(chunk: bytes) -> WavFormat | None:
    """Read a ``fmt`` chunk; None for whatever is not plain."""
    if len(chunk) < 16:
        return None
    tag, channels, rate_hz, _, align, bits = struct.unpack_from("<HHIIHH", chunk)
    if tag == _EXTENSIBLE:
        if len(chunk) < 40 or chunk[26:40] != _SUBFORMAT_END:
            return None
        tag = struct.unpack_from("<H", chunk, 24)[0]
    form = _FORMS.get((tag, bits))
    if form is None or channels == 0 or align != FORMS[form[0]].size * channels:
        return None
    return WavFormat(form[0], form[1], channels, rate_hz)


def _length_warnings(fmt: WavFormat, stated: int, there: int) -> tuple[str, ...]:
    """Say how much of a cut-off file is missing."""
    if stated - there < fmt.frame_bytes:
        return ()
    bytes_a_second = fmt.frame_bytes * max(fmt.rate_hz, 1)
    return (cut_off(stated / bytes_a_second, there / bytes_a_second),)
