"""The rotation flag of an MP4 file: a phone held upright stores its pictures lying, and says so.

The track header (tkhd) holds a matrix of nine fixed-point numbers, ISO/IEC 14496-12, 8.3.2: pictures are
shown after it. Degrees are clockwise: by so much a player turns what is stored.
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from benchmarks.filming.colours import Shown

_MATRIX_AT = {0: 48, 1: 60}  # from the box's first byte, by its version
_ONE, _UNIT = 1 << 16, 1 << 30


def as_stored(frame: Shown, degrees: int) -> Shown:
    """Turn a frame back by what a player will turn it, shape (height, width, 3)."""
    return np.ascontiguousarray(np.rot90(frame, degrees // 90))


def stored_size(size: tuple[int, int], degrees: int) -> tuple[int, int]:
    """Return width and height as stored."""
    return size if degrees % 180 == 0 else size[::-1]


def flag(path: Path, size: tuple[int, int], degrees: int) -> None:
    """Write the flag into a file whose first track is the picture; ``size`` is as stored."""
    data = bytearray(path.read_bytes())
    box = data.index(b"tkhd", data.index(b"moov")) - 4
    at = box + _MATRIX_AT[data[box + 8]]
    struct.pack_into(">9i", data, at, *_matrix(size, degrees))
    path.write_bytes(data)


def _matrix(size: tuple[int, int], degrees: int) -> tuple[int, ...]:
    width, height = (side * _ONE for side in size)
    cosine, sine = {90: (0, _ONE), 180: (-_ONE, 0), 270: (0, -_ONE)}[degrees]
    x, y = {90: (height, 0), 180: (width, height), 270: (0, width)}[degrees]
    return cosine, sine, 0, -sine, cosine, 0, x, y, _UNIT
