"""A demonstration is filled while it is already open: in the background, and on where it broke off.

Conventions: while it is being filled, a small file in the studio's folder says how many takes are there, of
how many. The pages read it, whichever process shows them; a start that finds it goes on.
"""

from __future__ import annotations

import json
import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from multiprocessing import resource_tracker
from pathlib import Path

from evenhand.studio.store.layout import FILLING
from evenhand.studio.store.studio import Studio

Told = Callable[[int, int], None]


def filling_of(data: Path) -> tuple[int, int] | None:
    """Return how many takes of a demonstration are there, of how many; None where it is not being filled."""
    try:
        done, of = json.loads((data / FILLING).read_text("ascii"))
    except (OSError, ValueError):
        return None
    return int(done), int(of)


def say_filling(data: Path, done: int, of: int) -> None:
    """Keep how far it is, in one step: whoever reads finds the old figures or the new ones."""
    beside = data / f"{FILLING}-new"
    beside.write_text(json.dumps([done, of]), "ascii")
    beside.replace(data / FILLING)


def _leave_ending_to_us() -> None:
    """Let no Ctrl-C reach the processes that this thread begins, from their first moment on.

    Python's own helper for such processes lets it through again when it starts, so it starts before.
    """
    resource_tracker.ensure_running()
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


class Filling:
    """Fills a demonstration beside the server. ``told`` hears how many takes are there, of how many.

    ``ended`` hears None at the end, or why it could not be filled; nothing where it is stopped.
    """

    def __init__(self, data: Path, told: Told, ended: Callable[[BaseException | None], None]) -> None:
        self._data, self._told, self._ended = data, told, ended
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="filling", daemon=True)

    def start(self) -> None:
        """Begin, if there is anything left to fill."""
        if filling_of(self._data) is not None:
            self._thread.start()

    def stop(self) -> None:
        """Break off, after the takes in hand; what is there stays."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join()

    @property
    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stopping.is_set()

    def _run(self) -> None:
        _leave_ending_to_us()
        try:
            whole = self._fill()
        except Exception as error:  # noqa: BLE001 - whatever it is, the studio goes on and says so
            if not self.stopping:
                self._ended(error)
            return
        if whole:
            (self._data / FILLING).unlink(missing_ok=True)
            self._ended(None)

    def _fill(self) -> bool:
        from evenhand.studio.demo.fill import fill_demo

        with Studio.open(self._data) as studio:
            return fill_demo(
                studio,
                studio.facts.created_at.astimezone(),
                progress=self._progress,
                goes_on=lambda: not self.stopping,
            )

    def _progress(self, done: int, of: int) -> None:
        with suppress(OSError):  # a full disk stops the takes themselves, which say so
            say_filling(self._data, done, of)
        self._told(done, of)
