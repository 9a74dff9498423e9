"""What a server and a process that hears live say to each other: frames over a pipe.

A frame is a head (which ear, what kind, how many bytes follow) and its bytes. The server opens an ear with
the JSON of a live take's first message, feeds it blocks, and closes it; each opening and each block is
answered once, by the hits as JSON or by what is wrong in words.

Conventions: blocks are float32, mono, the machine's byte order, full scale 1.0.
"""

from __future__ import annotations

import struct
from enum import IntEnum

HEAD = struct.Struct("<IBI")
LARGEST = 1 << 22  # bytes of a frame


class Kind(IntEnum):
    """What a frame says."""

    OPEN = 1
    FEED = 2
    CLOSE = 3
    HITS = 4
    WRONG = 5


def frame(ear: int, kind: Kind, body: bytes = b"") -> bytes:
    """Write a frame.

    >>> frame(7, Kind.CLOSE).hex()
    '070000000300000000'
    """
    return HEAD.pack(ear, kind, len(body)) + body
