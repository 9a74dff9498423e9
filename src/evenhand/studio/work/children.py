"""What a server and the processes that it begins have of each other: signals, waking, times of hearing.

Between a command's start and the moment when its server can end in order, Ctrl-C and the termination
signal are held back: they would break off what runs just then. They are taken as soon as they are let
through; processes started meanwhile never see Ctrl-C, from their first instant on.
"""

from __future__ import annotations

import os
import signal
from bisect import bisect_left
from collections.abc import Iterator, MutableSequence
from contextlib import contextmanager, suppress
from ctypes import c_bool
from multiprocessing import resource_tracker
from multiprocessing.context import SpawnContext
from multiprocessing.synchronize import Semaphore

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


# Upper ends, s, by which hearings are counted; behind them how many took longer, and the sum of all.
HEARING_S = (0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 120.0)


class Hearing:
    """What every process of the server has of its workers: it wakes them, and sees how long they took.

    A worker writes in a place of its own, and who replaces it adds to that.
    """

    def __init__(self, size: int, context: SpawnContext) -> None:
        self._wakes: Semaphore = context.Semaphore(0)
        self._size, self._row = size, len(HEARING_S) + 2
        # without a lock that a kill could leave shut
        self._took: MutableSequence[float] = context.RawArray("d", size * self._row)
        self._ends = context.RawValue(c_bool, False)  # noqa: FBT003 - ctypes' way

    def wake(self, workers: int = 1) -> None:
        """Say that a take came in: an idle worker looks now, not when its pause is over."""
        for _ in range(workers):
            self._wakes.release()

    def wait(self, seconds: float) -> bool:
        """Wait until a take comes in; tell whether that was said."""
        return self._wakes.acquire(timeout=seconds)

    def let_go(self) -> None:
        """Forget what was said so far; who calls this looks once more before it waits."""
        while self._wakes.acquire(block=False):
            pass

    def end(self) -> None:
        """Say that no further take should be begun."""
        self._ends.value = True
        self.wake(self._size)

    @property
    def ends(self) -> bool:
        """Tell whether that was said."""
        return bool(self._ends.value)

    def count(self, place: int, seconds: float) -> None:
        """Count a hearing by the worker of a place."""
        first = place * self._row
        self._took[first + bisect_left(HEARING_S, seconds)] += 1
        self._took[first + self._row - 1] += seconds

    def times(self) -> list[float]:
        """Count hearings by how long they took: up to each of ``HEARING_S``, longer; then their sum, s."""
        return [sum(self._took[column :: self._row]) for column in range(self._row)]
