"""A worker's sign of life: while a take is heard, its claim is renewed and its progress told."""

from __future__ import annotations

import os
import threading
import time
from contextlib import suppress
from typing import Self

from evenhand.storage.studio import Studio

BEAT_S = 2.0
LONGEST_S = 1800.0  # three hours of sound take a tenth of it; what takes longer is in a knot
OVERDUE_EXIT = 70


class Pulse:
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
                self._studio.still_hearing(self._take_id, self._worker, self._progress)
