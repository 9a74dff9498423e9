"""One address served by several processes: all take connections from the one socket that was bound.

Conventions: the process that was started hears nobody itself: it has the workers that hear takes, and sees
to it that its processes live. They are fresh interpreters. What waits in the socket waits for all of them,
so whoever comes while one dies is answered by another. Signals stay held back here and are looked for, so
that no process is born into the middle of a Ctrl-C.

What they share beside the database are figures (``Alongside``). All else that one must know of another is in
the database: docs/running.md has the table.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import MutableSequence
from contextlib import ExitStack, suppress
from dataclasses import replace
from multiprocessing import connection
from multiprocessing.context import SpawnProcess

from evenhand.errors import EvenhandError
from evenhand.studio.work.children import HELD, Hearing
from evenhand.studio.work.pool import PAUSE_S, SHORT_LIFE_S, WorkerPool
from evenhand.web.observed import KINDS
from evenhand.web.serving import Alongside, Served, WebSettings, serve

LOOKS_EVERY_S = 0.2
ENDS_WITHIN_S = 10.0  # then a process is killed; it gives its own requests 5 s


def serve_together(settings: WebSettings, served: Served, bound: socket.socket, processes: int) -> None:
    """Serve with so many processes until a Ctrl-C or a termination signal; the caller holds both back."""
    context = multiprocessing.get_context("spawn")
    counts = context.RawArray("d", processes * len(KINDS))
    with ExitStack() as running:
        hearing = None
        if settings.workers:
            pool = WorkerPool(settings.data, settings.workers, backing=settings.backing)
            hearing = running.enter_context(pool).hearing
        crew = Crew(replace(settings, workers=0), served, bound, processes, counts, hearing)
        running.callback(crew.end)
        while not _is_told_to_end():
            crew.look()


def _is_told_to_end() -> bool:
    """Take a signal that came, if one did."""
    told = False
    while signal.sigpending() & HELD:
        signal.sigwait(HELD)
        told = True
    return told


class Crew:
    """The processes that serve; who dies is replaced."""

    def __init__(
        self,
        settings: WebSettings,
        served: Served,
        bound: socket.socket,
        size: int,
        counts: MutableSequence[float],
        hearing: Hearing | None,
    ) -> None:
        self._given = settings, served, bound
        self._places = [Alongside(number, size, counts, hearing) for number in range(size)]
        self._running: dict[int, tuple[SpawnProcess, float]] = {}  # by number, and when each began
        self._begin_all()

    def look(self) -> None:
        """Replace who died; one that died right after its start is not replaced in a hurry."""
        connection.wait([process.sentinel for process, _ in self._running.values()], LOOKS_EVERY_S)
        if signal.sigpending() & HELD:  # all are told to end, by one Ctrl-C: nobody died
            return
        gone = [number for number, (process, _) in self._running.items() if not process.is_alive()]
        young = [time.monotonic() - self._running.pop(number)[1] < SHORT_LIFE_S for number in gone]
        if any(young):
            time.sleep(PAUSE_S)
        self._begin_all()

    def end(self) -> None:
        """Let all come to an end in order, and kill who does not."""
        processes = [process for process, _ in self._running.values()]
        for process in processes:
            process.terminate()
        last_s = time.monotonic() + ENDS_WITHIN_S
        for process in processes:
            process.join(max(0.0, last_s - time.monotonic()))
            process.kill()
            process.join()

    def _begin_all(self) -> None:
        for alongside in self._places:
            if alongside.number not in self._running:
                with suppress(OSError):  # the system has no room for another process: it is tried again
                    self._running[alongside.number] = self._begun(alongside), time.monotonic()

    def _begun(self, alongside: Alongside) -> SpawnProcess:
        context = multiprocessing.get_context("spawn")
        name = f"web {alongside.number}"
        process = context.Process(target=_serve_one, args=(*self._given, alongside), name=name)
        process.start()
        return process


def _serve_one(settings: WebSettings, served: Served, bound: socket.socket, alongside: Alongside) -> None:
    """Serve as one of several, until told to end or left alone."""
    for each in HELD:
        signal.signal(each, _left_to_the_server)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    try:
        serve(settings, served, bound, alongside)
    except EvenhandError as error:
        sys.exit(f"A web process cannot begin, and is tried again: {error}")


def _left_to_the_server(_number: int, _frame: object) -> None:
    """Do nothing: they are held back until the server takes them; come again, it ends already."""


def _end_with_parent() -> None:
    """End in order when the process that began this one is gone: nobody would replace it or stop it."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os.kill(os.getpid(), signal.SIGTERM)
