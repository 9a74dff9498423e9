"""Hear live takes in processes of their own, so that pages stay quick while students play.

A process hears several takes side by side; another is started when those that run have enough to do. One that
dies takes its takes' live marks along, and nothing else: the recording is the page's. The next take gets a
new process.

Conventions: as ``live_wire``; one block of an ear is on its way at a time.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import os
import sys
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import Any, Protocol, cast

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.studio.live.wire import HEAD, Kind, frame, hits_in, live_ear

ENOUGH_EARS = 3  # of one process, before another is started
MOST_PROCESSES = max(1, min(4, os.cpu_count() or 1))
GONE = "the live hearing ended; the recording goes on, and is heard when it is sent"

Samples = NDArray[np.float32]
Hits = list[dict[str, Any]]


class LiveTake(Protocol):
    """One take that is heard while it is played."""

    async def feed(self, samples: Samples) -> Hits:
        """Hear the next samples, shape (n,); give the hits that became certain."""
        ...

    def close(self) -> None:
        """Forget the take."""
        ...


class HearsLive(Protocol):
    """Where live takes are heard."""

    async def open(self, message: str) -> LiveTake:
        """Begin a take by its first message, as it came from the page."""
        ...

    async def stop(self) -> None:
        """End what runs."""
        ...


class _Child:
    """One process, the ears it has, and the answers that are awaited of it."""

    def __init__(
        self, process: asyncio.subprocess.Process, into: asyncio.StreamWriter, out: asyncio.StreamReader
    ) -> None:
        self.process, self.ears, self.alive = process, set[int](), True
        self._into, self._out = into, out
        self._awaited: dict[int, asyncio.Future[bytes]] = {}
        self._reading = asyncio.create_task(self._read())

    @classmethod
    async def start(cls) -> _Child:
        """Start a process; it loads the ear while nothing is asked of it yet."""
        process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "evenhand.studio.live.child"),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            start_new_session=True,  # Ctrl-C at the terminal is the server's
        )
        return cls(
            process, cast("asyncio.StreamWriter", process.stdin), cast("asyncio.StreamReader", process.stdout)
        )

    async def ask(self, ear: int, kind: Kind, body: bytes) -> bytes:
        """Ask, and wait for the answer.

        Raises
        ------
        WrongUse
            With what was wrong, or where the process is gone.
        """
        if not self.alive:
            raise WrongUse(GONE)
        answer: asyncio.Future[bytes] = asyncio.get_running_loop().create_future()
        self._awaited[ear] = answer
        try:
            self.say(ear, kind, body)
            return await answer
        finally:
            self._awaited.pop(ear, None)

    def say(self, ear: int, kind: Kind, body: bytes = b"") -> None:
        """Send a frame; what is on its way is bounded, since each ear waits for its answer."""
        with suppress(ConnectionError):  # the reader sees the end
            self._into.write(frame(ear, kind, body))

    async def end(self) -> None:
        """End the process."""
        with suppress(ProcessLookupError):
            self.process.kill()
        await self.process.wait()
        await self._reading

    async def _read(self) -> None:
        """Hand out answers until the process ends."""
        with suppress(asyncio.IncompleteReadError, ConnectionError):
            while True:
                ear, kind, length = HEAD.unpack(await self._out.readexactly(HEAD.size))
                body = await self._out.readexactly(length)
                self._answer(ear, Kind(kind), body)
        self.alive = False
        for ear in list(self._awaited):
            self._answer(ear, Kind.WRONG, GONE.encode())

    def _answer(self, ear: int, kind: Kind, body: bytes) -> None:
        answer = self._awaited.get(ear)
        if answer is None or answer.done():
            return
        if kind == Kind.HITS:
            answer.set_result(body)
        else:
            answer.set_exception(WrongUse(body.decode()))


class _Remote:
    """A take that a process hears."""

    def __init__(self, child: _Child, ear: int) -> None:
        self._child, self._ear = child, ear

    async def feed(self, samples: Samples) -> Hits:
        """Hear the next samples."""
        answer = await self._child.ask(self._ear, Kind.FEED, samples.astype(np.float32, copy=False).tobytes())
        hits: Hits = json.loads(answer)
        return hits

    def close(self) -> None:
        """Forget the take."""
        self._child.ears.discard(self._ear)
        self._child.say(self._ear, Kind.CLOSE)


class LiveProcesses:
    """The processes, and which of them gets the next take."""

    def __init__(self, most: int = MOST_PROCESSES, enough: int = ENOUGH_EARS) -> None:
        self._most, self._enough = most, enough
        self._children: list[_Child] = []
        self._numbers = itertools.count(1)
        self._starting = asyncio.Lock()

    async def start(self) -> None:
        """Start the first process, so that the first take need not wait for it."""
        await self._place()

    async def open(self, message: str) -> LiveTake:
        """Begin a take where there is most room."""
        child, ear = await self._place(), next(self._numbers)
        child.ears.add(ear)
        try:
            await child.ask(ear, Kind.OPEN, message.encode())
        except BaseException:
            child.ears.discard(ear)
            raise
        return _Remote(child, ear)

    async def stop(self) -> None:
        """End all processes."""
        for child in self._children:
            await child.end()
        self._children = []

    def pids(self) -> list[int]:
        """List the process ids of those that live."""
        return [child.process.pid for child in self._children if child.alive]

    async def _place(self) -> _Child:
        async with self._starting:
            for child in [each for each in self._children if not each.alive]:
                self._children.remove(child)
                await child.end()
            emptiest = min(self._children, key=lambda child: len(child.ears), default=None)
            full = emptiest is None or len(emptiest.ears) >= self._enough
            if emptiest is None or (full and len(self._children) < self._most):
                emptiest = await _Child.start()
                self._children.append(emptiest)
            return emptiest


class LiveHere:
    """Takes heard in this process: for tests, and where no processes are wanted.

    ``runs`` runs a function beside the event loop.
    """

    def __init__(self, runs: Callable[..., Awaitable[Any]]) -> None:
        self._runs = runs

    async def open(self, message: str) -> LiveTake:
        """Begin a take."""
        return _Here(live_ear(message), self._runs)

    async def stop(self) -> None:
        """End nothing: nothing runs."""


class _Here:
    """A take that this process hears."""

    def __init__(self, ear: Any, runs: Callable[..., Awaitable[Any]]) -> None:  # noqa: ANN401 - a live ear
        self._ear, self._runs = ear, runs

    async def feed(self, samples: Samples) -> Hits:
        """Hear the next samples."""
        hits: Hits = await self._runs(hits_in, self._ear, samples)
        return hits

    def close(self) -> None:
        """Forget the take."""
