"""What a server and a process that hears live say to each other: frames over a pipe.

A frame is a head (which ear, what kind, how many bytes follow) and its bytes. The server opens an ear with
the JSON of a live take's first message, feeds it blocks, and closes it; each opening and each block is
answered once, by the hits as JSON or by what is wrong in words.

Conventions: blocks are float32, mono, the machine's byte order, full scale 1.0.

Hits are as ``hearing.live.ear.LiveHit``.
"""

from __future__ import annotations

import json
import struct
from dataclasses import asdict
from enum import IntEnum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # a process that hears settles how many cores it has before numpy is loaded
    import numpy as np
    from numpy.typing import NDArray

    from evenhand.hearing.live.ear import LiveEar

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


KEEPS_S = 60.0  # of sound; the recording itself is the page's
DIGITS = {"time_s": 5, "level_db": 2, "asynchrony_ms": 2}


def live_ear(message: str | bytes) -> LiveEar:
    """Make the ear that a live take's first message asks for."""
    from evenhand.hearing.live.ear import LiveEar
    from evenhand.studio.stand.sent import LONGEST_LIVE_S, read_live

    asked = read_live(json.loads(message))
    return LiveEar(
        asked.rate_hz,
        exercise=asked.asked.exercise,
        tempo=asked.asked.tempo,
        first_note_s=asked.first_note_s,
        click_s=asked.clicks_s,
        longest_s=LONGEST_LIVE_S,
        keeps_s=KEEPS_S,
    )


def hits_in(ear: LiveEar, samples: NDArray[np.float32]) -> list[dict[str, Any]]:
    """Feed an ear, and list the hits that became certain, as JSON holds them.

    Parameters
    ----------
    samples
        Full scale 1, shape (n,), the next ones of the take.
    """
    return [
        {
            name: round(float(value), DIGITS[name]) if name in DIGITS and value is not None else value
            for name, value in asdict(hit).items()
        }
        for hit in ear.feed(samples)
    ]
