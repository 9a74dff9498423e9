"""The life of one worker process: claim a take, hear it, claim the next.

It may be killed at any instant. It ends by itself when the server that started it is gone, after
the take in hand.

A worker's sign of life: while a take is heard, its claim is renewed and its progress told.

Hold Ctrl-C and the termination signal back while nobody could take them well.

Between a command's start and the moment when its server can end in order, an interrupt would break off what
runs just then, and the processes that are being started would say so at length. Held back, it is taken as
soon as it is let through; processes started meanwhile never see Ctrl-C, from their first instant on.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from multiprocessing import resource_tracker
from multiprocessing.synchronize import Semaphore
from pathlib import Path
from typing import Self

from evenhand.studio.store.studio import Studio

HELD = {signal.SIGINT, signal.SIGTERM}


@contextmanager
def held() -> Iterator[None]:
    """Hold both back in this thread, and in what it starts, until they are let through or this ends."""
    resource_tracker.ensure_running()  # Python's helper for processes lets signals through when it starts
    before = signal.pthread_sigmask(signal.SIG_BLOCK, HELD)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def let_through() -> None:
    """Take both from now on in this thread, and at once where they came meanwhile."""
    signal.pthread_sigmask(signal.SIG_UNBLOCK, HELD)


def begin_process(nice: int = 0) -> None:
    """Begin a process of the server: Ctrl-C is left to that one, it may be terminated, and has one core."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})  # it may have begun while that was held back
    with suppress(OSError, AttributeError):
        os.nice(nice)
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # read when numpy is loaded


NICE = 10  # the server goes first
NO_ROOM_S = 5.0  # until it tries again where the disk can keep nothing
IDLE_S = 0.5  # until it looks again by itself, when nobody wakes it


def work(data: Path, url: str | None, name: str, wakes: Semaphore) -> None:
    """Work until the server is gone."""
    begin_process(NICE)
    _load()
    from evenhand.errors import CannotKeep
    from evenhand.studio.store.studio import Studio

    with Studio.open(data, url=url) as studio:
        while _server_lives():
            try:
                if not _hear_next(studio, name):
                    wakes.acquire(timeout=IDLE_S)
            except CannotKeep:  # the disk is full: nobody is to blame, and there may be room later
                with suppress(Exception):
                    studio.queue.give_back(name)
                time.sleep(NO_ROOM_S)


def _hear_next(studio: Studio, name: str) -> bool:
    """Claim a take and hear it; False where none waits."""
    from evenhand.media.open_take import open_take
    from evenhand.studio.work.hear_one import hear_one

    take = studio.queue.claim(name)
    if take is not None:
        hear_one(studio, take, name, opens=open_take, longest_s=LONGEST_S)
    return take is not None


def _load() -> None:
    """Load what hearing needs before there is something to hear."""
    from evenhand.acts.takes import document as as_json  # noqa: F401 - loaded, not used here
    from evenhand.hearing import listen  # noqa: F401 - the same
    from evenhand.measuring.measure import measure  # noqa: F401 - the same
    from evenhand.media.decoder import DecoderEnded, shared_decoder

    with suppress(DecoderEnded, OSError):
        shared_decoder().start()


def _server_lives() -> bool:
    """Tell whether the process that started this one is there."""
    server = multiprocessing.parent_process()
    return server is None or server.is_alive()


BEAT_S = 2.0
LONGEST_S = 1800.0  # three hours of sound take a tenth of it; what takes longer is in a knot
OVERDUE_EXIT = 70


class Heartbeat:
    """Beats from the start of a hearing to its end."""

    def __init__(self, studio: Studio, take_id: str, worker: str, *, longest_s: float | None = None) -> None:
        self._studio, self._take_id, self._worker = studio, take_id, worker
        self._last_s = float("inf") if longest_s is None else time.monotonic() + longest_s
        self._progress = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def tell(self, done: float) -> None:
        """Be told the share done; the next beat passes it on."""
        self._progress = done

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self._over.set()
        self._thread.join()

    def _beat(self) -> None:
        """Beat; a hearing without end ends the whole process, which its server sees and makes good."""
        while not self._over.wait(BEAT_S):
            if time.monotonic() > self._last_s:
                os._exit(OVERDUE_EXIT)
            with suppress(Exception):  # a beat that is missed does no harm; many make the claim stale
                self._studio.queue.still_hearing(self._take_id, self._worker, self._progress)
