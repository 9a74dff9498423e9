"""A process that hears live takes, several side by side: frames in on its input, answers out on its output.

It ends when its input ends: with its server, however that ends.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from contextlib import suppress
from typing import IO, TYPE_CHECKING

from evenhand.studio.live.wire import HEAD, LARGEST, Kind, frame
from evenhand.studio.work.worker import may_be_terminated

if TYPE_CHECKING:
    from evenhand.hearing.live.ear import LiveEar


def main() -> None:
    """Hear what comes in, until nothing more does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server decides
    may_be_terminated()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # read when numpy is loaded
    answers = os.fdopen(os.dup(1), "wb", buffering=0)
    os.dup2(2, 1)  # what anything prints is no answer
    _load()
    with suppress(BrokenPipeError):  # the server is gone
        hear_frames(sys.stdin.buffer, answers)


def _load() -> None:
    """Load the ear before there is something to hear."""
    from evenhand.studio.stand import sent as studio_stand_take  # noqa: F401 - loaded, not used here


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
            ears[ear] = _opened(body)
            return frame(ear, Kind.HITS, b"[]")
        return frame(ear, Kind.HITS, json.dumps(_fed(ears[ear], body)).encode())
    except Exception as error:  # noqa: BLE001 - one ear's trouble is not the others'
        ears.pop(ear, None)
        return frame(ear, Kind.WRONG, (str(error) or type(error).__name__).encode())


def _opened(body: bytes) -> LiveEar:
    from evenhand.studio.live.wire import live_ear
    from evenhand.studio.stand.sent import read_live

    return live_ear(read_live(json.loads(body)))


def _fed(ear: LiveEar, body: bytes) -> list[dict[str, object]]:
    import numpy as np

    from evenhand.studio.live.wire import plain_hit

    return [plain_hit(hit) for hit in ear.feed(np.frombuffer(body, dtype=np.float32))]


if __name__ == "__main__":
    main()
