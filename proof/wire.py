"""A wire between two parts that breaks: a port on loopback whose bytes are passed on, and cut off mid-bytes.

Conventions: a cut is a reset (``SO_LINGER`` 0), so that both sides lose what was under way; lengths in bytes.
"""

from __future__ import annotations

import asyncio
import random
import socket
import struct
import threading
from contextlib import suppress

_BLOCK = 1 << 16
_AT_ONCE = struct.pack("ii", 1, 0)


class Wire:
    """Passes on what comes to ``port``; about once in ``cut_every`` bytes it cuts the connection in hand."""

    def __init__(self, host: str, to: int, *, seed: int, cut_every: float = float("inf")) -> None:
        self._to, self._random, self._every = (host, to), random.Random(seed), cut_every  # noqa: S311 - no secret
        self._left = self._drawn()
        self._open: set[asyncio.StreamWriter] = set()
        self._down = False
        self.cuts = self.passed = 0
        self._loop = asyncio.new_event_loop()
        self._bound = socket.create_server((host, 0), backlog=512)
        self.port = int(self._bound.getsockname()[1])
        self._thread = threading.Thread(target=self._run, name=f"wire to {to}", daemon=True)

    def start(self) -> None:
        """Begin to pass on."""
        self._thread.start()

    def stop(self) -> None:
        """End; what is under way is lost."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join()

    def cut(self) -> int:
        """Cut all connections at once; tell how many."""
        return asyncio.run_coroutine_threadsafe(self._cut_all(), self._loop).result()

    def down(self, *, is_down: bool) -> None:
        """Cut all, and refuse further ones; or let them through again."""
        self._down = is_down
        if is_down:
            self.cut()

    def quiet(self) -> None:
        """Cut nothing any more by itself."""
        self._every = self._left = float("inf")

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        server = self._loop.run_until_complete(asyncio.start_server(self._joined, sock=self._bound))
        self._loop.run_forever()
        server.close()
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0))
        self._loop.close()

    async def _joined(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Join one connection with a new one to the other part, until either ends."""
        far = await self._far_end()
        if far is None:
            _reset(writer)
            return
        far_reader, far_writer = far
        both = {writer, far_writer}
        self._open |= both
        try:
            await asyncio.gather(self._pass(reader, far_writer), self._pass(far_reader, writer))
        except OSError:
            for each in both:
                _reset(each)
        finally:
            self._open -= both
            for each in both:
                each.close()

    async def _far_end(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter] | None:
        """Connect to the other part; None where it is not there, or nothing is let through."""
        with suppress(OSError):
            return None if self._down else await asyncio.open_connection(*self._to)
        return None

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Pass one direction on, up to a cut."""
        while block := await reader.read(_BLOCK):
            self.passed += len(block)
            self._left -= len(block)
            if self._left < 0:
                self._left, self.cuts = self._drawn(), self.cuts + 1
                writer.write(block[: len(block) // 2])
                raise ConnectionResetError
            writer.write(block)
            await writer.drain()
        with suppress(OSError):
            writer.write_eof()

    async def _cut_all(self) -> int:
        cut = len(self._open) // 2
        for each in list(self._open):
            _reset(each)
        self.cuts += cut
        return cut

    def _drawn(self) -> float:
        """Draw how many bytes go through until the next cut."""
        return self._every if self._every == float("inf") else self._random.expovariate(1 / self._every)


def _reset(writer: asyncio.StreamWriter) -> None:
    """End a connection with a reset."""
    with suppress(OSError, AttributeError):
        writer.get_extra_info("socket").setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _AT_ONCE)
    writer.transport.abort()
