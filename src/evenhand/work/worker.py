"""The life of one worker process: claim a take, hear it, claim the next.

It may be killed at any instant. It ends by itself when the server that started it is gone, after
the take in hand.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from contextlib import suppress
from multiprocessing.synchronize import Semaphore
from pathlib import Path
from typing import TYPE_CHECKING

from evenhand.work.interrupts import may_be_terminated

if TYPE_CHECKING:  # loaded in the worker alone
    from evenhand.storage.studio import Studio

NICE = 10  # the server goes first
NO_ROOM_S = 5.0  # until it tries again where the disk can keep nothing
IDLE_S = 0.5  # until it looks again by itself, when nobody rings


def work(data: Path, url: str | None, name: str, bell: Semaphore) -> None:
    """Work until the server is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server decides
    may_be_terminated()
    with suppress(OSError, AttributeError):
        os.nice(NICE)
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # one worker, one core; read when numpy is loaded
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _load()
    from evenhand.errors import CannotKeep
    from evenhand.storage.studio import Studio

    with Studio.open(data, url=url) as studio:
        while _server_lives():
            try:
                if not _hear_next(studio, name):
                    bell.acquire(timeout=IDLE_S)
            except CannotKeep:  # the disk is full: nobody is to blame, and there may be room later
                with suppress(Exception):
                    studio.give_back(name)
                time.sleep(NO_ROOM_S)


def _hear_next(studio: Studio, name: str) -> bool:
    """Claim a take and hear it; False where none waits."""
    from evenhand.media.open_take import open_take
    from evenhand.work.hear_one import hear_one
    from evenhand.work.pulse import LONGEST_S

    take = studio.claim_take(name)
    if take is not None:
        hear_one(studio, take, name, opens=open_take, longest_s=LONGEST_S)
    return take is not None


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
