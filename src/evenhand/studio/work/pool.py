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
class _Worker:
    """A worker, by the name under which it claims, and the moment when it began."""

    name: str
    process: SpawnProcess
    since_s: float


class WorkerPool:
    """So many workers for one studio; a dead one's take goes back at once, and another takes its place."""

    def __init__(self, studio_data: Path, size: int = 1, *, url: str | None = None) -> None:
        self._data, self._size, self._url = studio_data, size, url
        self._context = multiprocessing.get_context("spawn")
        self._wakes = self._context.Semaphore(0)
        self._stopping = threading.Event()
        self._running: list[_Worker] = []
        self._watch: threading.Thread | None = None
        self._studio: Studio | None = None

    def start(self) -> None:
        """Sweep the studio, and let the workers begin; it returns before they are ready."""
        self._stopping.clear()
        self._studio = Studio.open(self._data, url=self._url)
        with suppress(CannotKeep):  # there is room another time
            self._studio.data.sweep()
        self._running = [self._begun() for _ in range(self._size)]
        self._watch = threading.Thread(target=self._look_after, name="worker pool", daemon=True)
        self._watch.start()

    def wake(self) -> None:
        """Say that a take came in: an idle worker looks now, not within half a second."""
        self._wakes.release()

    def stop(self) -> None:
        """End the workers; the takes in their hands wait again."""
        self._stopping.set()
        if self._watch is not None:
            self._watch.join()
        for worker in self._running:
            self._end(worker, blamed=False)
        self._running = []
        if self._studio is not None:
            self._studio.close()
            self._studio = None

    def pids(self) -> list[int]:
        """List the workers' process ids."""
        return [worker.process.pid for worker in self._running if worker.process.pid is not None]

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self.stop()

    def _begun(self) -> _Worker:
        """Start a worker."""
        name = f"worker-{secrets.token_hex(6)}"
        process = self._context.Process(
            target=work, args=(self._data, self._url, name, self._wakes), name=name, daemon=True
        )
        process.start()
        return _Worker(name, process, time.monotonic())

    def _end(self, worker: _Worker, *, blamed: bool) -> None:
        """End a worker, if it lives, and give its take back."""
        worker.process.kill()
        worker.process.join()
        worker.process.close()
        if self._studio is not None:
            with suppress(Exception):  # the database is away: then the claim grows stale, with the same end
                self._studio.queue.give_back(worker.name, blamed=blamed)

    def _look_after(self) -> None:
        """Replace the workers that die."""
        while not self._stopping.is_set():
            died = connection.wait([worker.process.sentinel for worker in self._running], WATCH_S)
            gone = [each for each in self._running if each.process.sentinel in died]
            for worker in gone:
                self._running.remove(worker)
                self._end(worker, blamed=True)
            if any(time.monotonic() - worker.since_s < SHORT_LIFE_S for worker in gone):
                self._stopping.wait(PAUSE_S)
            while len(self._running) < self._size and not self._stopping.is_set():
                with suppress(OSError):  # the system has no room for another process: it is tried again
                    self._running.append(self._begun())
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
