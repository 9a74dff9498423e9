"""A process that hears live takes, several side by side: frames in on its input, answers out on its output.

It ends when its input ends: with its server, however that ends.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from typing import IO, TYPE_CHECKING

from evenhand.studio.live.wire import HEAD, LARGEST, Kind, frame, hits_in, live_ear
from evenhand.studio.work.children import begin_process

if TYPE_CHECKING:
    from evenhand.hearing.live.ear import LiveEar


def main() -> None:
    """Hear what comes in, until nothing more does."""
    begin_process()
    answers = os.fdopen(os.dup(1), "wb", buffering=0)
    os.dup2(2, 1)  # what anything prints is no answer
    _load()
    with suppress(BrokenPipeError):  # the server is gone
        hear_frames(sys.stdin.buffer, answers)


def _load() -> None:
    """Load the ear before there is something to hear."""
    from evenhand.hearing.live import ear  # noqa: F401 - loaded, not used here
    from evenhand.studio.stand import sent  # noqa: F401 - the same


def hear_frames(asked: IO[bytes], answers: IO[bytes]) -> None:
    """Answer frame after frame."""
    ears: dict[int, LiveEar] = {}
    while len(head := asked.read(HEAD.size)) == HEAD.size:
        ear, kind, length = HEAD.unpack(head)
        if length > LARGEST:
            return
        body = asked.read(length)
        if kind == Kind.CLOSE:
            ears.pop(ear, None)
        else:
            answers.write(_answer(ears, ear, kind, body))


def _answer(ears: dict[int, LiveEar], ear: int, kind: int, body: bytes) -> bytes:
    """Open an ear or feed it; whatever is wrong with one ends that one only."""
    try:
        if kind == Kind.OPEN:
            ears[ear] = live_ear(body)
            return frame(ear, Kind.HITS, b"[]")
        import numpy as np

        samples = np.frombuffer(body, dtype=np.float32)
        return frame(ear, Kind.HITS, json.dumps(hits_in(ears[ear], samples)).encode())
    except Exception as error:  # noqa: BLE001 - one ear's trouble is not the others'
        ears.pop(ear, None)
        return frame(ear, Kind.WRONG, (str(error) or type(error).__name__).encode())


if __name__ == "__main__":
    main()
