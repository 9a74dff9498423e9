"""Worker processes that hear the takes of a studio, and who sees to it that they live.

Conventions: workers are fresh interpreters (spawn), never forks of a server with threads. They
hold nothing that a kill could lose: stopping is killing them and giving their takes back.
"""

from __future__ import annotations

import multiprocessing
import secrets
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Self

from evenhand.errors import CannotKeep
from evenhand.studio.store.studio import Studio
from evenhand.studio.work.worker import work
from evenhand.take import OpensTakes

WATCH_S = 0.5
SHORT_LIFE_S, PAUSE_S = 5.0, 1.0  # who dies right after the start is not replaced in a hurry


@dataclass(slots=True)
class _Hired:
    """A worker, by the name under which it claims, and the moment when it began."""

    name: str
    process: SpawnProcess
    since_s: float


class Hearers:
    """So many workers for one studio; a dead one's take goes back at once, and another takes its place."""

    def __init__(self, studio_data: Path, workers: int = 1, *, url: str | None = None) -> None:
        self._data, self._workers, self._url = studio_data, workers, url
        self._context = multiprocessing.get_context("spawn")
        self._bell = self._context.Semaphore(0)
        self._stopping = threading.Event()
        self._hired: list[_Hired] = []
        self._watch: threading.Thread | None = None
        self._studio: Studio | None = None

    def start(self) -> None:
        """Sweep the studio, and let the workers begin; it returns before they are ready."""
        self._stopping.clear()
        self._studio = Studio.open(self._data, url=self._url)
        with suppress(CannotKeep):  # there is room another time
            self._studio.data.sweep()
        self._hired = [self._hire() for _ in range(self._workers)]
        self._watch = threading.Thread(target=self._look_after, name="hearers", daemon=True)
        self._watch.start()

    def ring(self) -> None:
        """Say that a take came in: an idle worker looks now, not within half a second."""
        self._bell.release()

    def stop(self) -> None:
        """End the workers; the takes in their hands wait again."""
        self._stopping.set()
        if self._watch is not None:
            self._watch.join()
        for hired in self._hired:
            self._dismiss(hired, blamed=False)
        self._hired = []
        if self._studio is not None:
            self._studio.close()
            self._studio = None

    def pids(self) -> list[int]:
        """List the workers' process ids."""
        return [hired.process.pid for hired in self._hired if hired.process.pid is not None]

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self.stop()

    def _hire(self) -> _Hired:
        """Start a worker."""
        name = f"worker-{secrets.token_hex(6)}"
        process = self._context.Process(
            target=work, args=(self._data, self._url, name, self._bell), name=name, daemon=True
        )
        process.start()
        return _Hired(name, process, time.monotonic())

    def _dismiss(self, hired: _Hired, *, blamed: bool) -> None:
        """End a worker, if it lives, and give its take back."""
        hired.process.kill()
        hired.process.join()
        hired.process.close()
        if self._studio is not None:
            with suppress(Exception):  # the database is away: then the claim grows stale, with the same end
                self._studio.queue.give_back(hired.name, blamed=blamed)

    def _look_after(self) -> None:
        """Replace the workers that die."""
        while not self._stopping.is_set():
            died = connection.wait([hired.process.sentinel for hired in self._hired], WATCH_S)
            gone = [each for each in self._hired if each.process.sentinel in died]
            for hired in gone:
                self._hired.remove(hired)
                self._dismiss(hired, blamed=True)
            if any(time.monotonic() - hired.since_s < SHORT_LIFE_S for hired in gone):
                self._stopping.wait(PAUSE_S)
            while len(self._hired) < self._workers and not self._stopping.is_set():
                with suppress(OSError):  # the system has no room for another process: it is tried again
                    self._hired.append(self._hire())
                    continue
                self._stopping.wait(PAUSE_S)


def hear_waiting_once(studio: Studio, *, opens: OpensTakes | None = None) -> int:
    """Hear all that waits now, in this process, and tell how many takes that were."""
    from evenhand.media.open_take import open_take
    from evenhand.studio.work.hear_one import hear_one

    worker, done = f"here-{secrets.token_hex(6)}", 0
    while (take := studio.queue.claim(worker)) is not None:
        hear_one(studio, take, worker, opens=opens or open_take)
        done += 1
    return done
