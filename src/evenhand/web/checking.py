"""Passwords are checked few at a time: each check takes 64 MB and a core, so that guessing is dear.

Who comes while many wait is asked to come again: nobody's check makes the others' pages wait.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

AT_ONCE, MOST_WAITING = 2, 16

Answer = TypeVar("Answer")


class TooManyChecks(Exception):
    """So many wait for their check that one more would wait long."""


class PasswordChecks:
    """The threads that check passwords, and no others do."""

    def __init__(self, at_once: int = AT_ONCE, most_waiting: int = MOST_WAITING) -> None:
        self._most = at_once + most_waiting
        self._pool = ThreadPoolExecutor(at_once, thread_name_prefix="password")
        self._lock, self._inside = threading.Lock(), 0

    async def run(self, check: Callable[[], Answer]) -> Answer:
        """Run a check when it is its turn.

        Raises
        ------
        TooManyChecks
            There are too many before it.
        """
        with self._lock:
            if self._inside >= self._most:
                raise TooManyChecks
            self._inside += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._pool, self._counted(check))
        except asyncio.CancelledError:
            raise
        except RuntimeError as error:  # the pool is closed: the server ends
            if "shutdown" in str(error):
                self._less()
                raise TooManyChecks from None
            raise

    def _counted(self, check: Callable[[], Answer]) -> Callable[[], Answer]:
        def counted() -> Answer:
            try:
                return check()
            finally:
                self._less()

        return counted

    def _less(self) -> None:
        with self._lock:
            self._inside -= 1

    def close(self) -> None:
        """End the threads."""
        self._pool.shutdown(wait=False, cancel_futures=True)
