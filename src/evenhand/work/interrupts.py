"""Hold Ctrl-C and the termination signal back while nobody could take them well.

Between a command's start and the moment when its server can end in order, an interrupt would break off what
runs just then, and the processes that are being started would say so at length. Held back, it is taken as
soon as it is let through; processes started meanwhile never see Ctrl-C, from their first instant on.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker

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


def may_be_terminated() -> None:
    """Take the termination signal in a process that was started while it was held back."""
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})
