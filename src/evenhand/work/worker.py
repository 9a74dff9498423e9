"""The life of one worker process: claim a take, hear it, claim the next.

It may be killed at any instant. It ends by itself when the server that started it is gone, after
the take in hand.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from contextlib import suppress
from multiprocessing.synchronize import Semaphore
from pathlib import Path

NICE = 10  # the server goes first
IDLE_S = 0.5  # until it looks again by itself, when nobody rings


def work(data: Path, url: str | None, name: str, bell: Semaphore) -> None:
    """Work until the server is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server decides
    with suppress(OSError, AttributeError):
        os.nice(NICE)
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # one worker, one core; read when numpy is loaded
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _load()
    from evenhand.media.open_take import open_take
    from evenhand.storage.studio import Studio
    from evenhand.work.hear_one import hear_one
    from evenhand.work.pulse import LONGEST_S

    with Studio.open(data, url=url) as studio:
        while _server_lives():
            take = studio.claim_take(name)
            if take is None:
                bell.acquire(timeout=IDLE_S)
            else:
                hear_one(studio, take, name, opens=open_take, longest_s=LONGEST_S)


def _load() -> None:
    """Load what hearing needs before there is something to hear."""
    from evenhand.application import as_json, hear_take  # noqa: F401 - loaded, not used here
    from evenhand.listening import listen  # noqa: F401 - the same
    from evenhand.measuring import measure  # noqa: F401 - the same
    from evenhand.media.decoder import DecoderEnded, shared_decoder

    with suppress(DecoderEnded, OSError):
        shared_decoder().start()


def _server_lives() -> bool:
    """Tell whether the process that started this one is there."""
    server = multiprocessing.parent_process()
    return server is None or server.is_alive()
