"""One connection's HTTP, with a time for everything that a visitor may take.

Conventions: s. A request's head must be whole within ``HEAD_S`` of its first byte (or of the connection);
its body must come on at a least pace; an answer that nobody takes ends the connection. What is left of a
body after its answer is read for a moment, so that the answer arrives, and then the connection ends.

A log that does not grow with what strangers send: of lines alike, a few a minute, then their number.
"""

from __future__ import annotations

import asyncio
import logging
import time
from typing import TYPE_CHECKING, Any

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from evenhand.web.guests import Guests

if TYPE_CHECKING:
    from collections.abc import Callable


HEAD_S = 15.0
PACE_S, PACE_BYTES = 20.0, 8_000  # at the least so many bytes of a body in so long: 0.4 kB/s
STALLED_S = 60.0
LINGER_S, LINGER_BYTES = 2.0, 4 << 20


class StudioConfig(uvicorn.Config):
    """Uvicorn's settings, with the guests."""

    guests: Guests | None = None


class SocketWire(WebSocketsSansIOProtocol):
    """Uvicorn's own socket; whoever does not take what is sent is not read, and ends.

    Each ping asks for a pong: from somebody who reads none, they would pile up here without end.
    """

    stalled_s = STALLED_S

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - as Uvicorn makes it
        super().__init__(*args, **kwargs)
        self._stalled: asyncio.TimerHandle | None = None

    def data_received(self, data: bytes) -> None:
        """Take in bytes, and no more while their answers are not taken."""
        super().data_received(data)
        if not self.writable.is_set() and not self.transport.is_closing():
            self.transport.pause_reading()

    def pause_writing(self) -> None:
        """Note that the visitor does not take what is sent."""
        super().pause_writing()
        if self._stalled is None:
            self._stalled = self.loop.call_later(self.stalled_s, self.transport.abort)
        if not self.transport.is_closing():
            self.transport.pause_reading()

    def resume_writing(self) -> None:
        """Note that the visitor takes it again."""
        super().resume_writing()
        self._taken()
        if not self.read_paused and not self.transport.is_closing():
            self.transport.resume_reading()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget all times."""
        self._taken()
        super().connection_lost(exc)

    def _taken(self) -> None:
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None


class Wire(H11Protocol):
    """Uvicorn's own protocol, kept in time."""

    head_s, pace_s, pace_bytes = HEAD_S, PACE_S, PACE_BYTES
    stalled_s, linger_s, linger_bytes = STALLED_S, LINGER_S, LINGER_BYTES

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - as Uvicorn makes it
        super().__init__(*args, **kwargs)
        self._guests: Guests | None = getattr(self.config, "guests", None)
        self._peer: tuple[Any, ...] | None = None
        self._timers: dict[str, asyncio.TimerHandle] = {}
        self._came = self._left_over = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin: the head must come soon."""
        super().connection_made(transport)
        self._peer = transport.get_extra_info("peername")
        self._within("head", self.head_s, self._end)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget all times."""
        for name in list(self._timers):
            self._no_longer(name)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take in bytes, and note what they begin or end."""
        if self.transport.is_closing():
            return
        self._came += len(data)
        if "linger" in self._timers:
            self._left_over += len(data)
            if self._left_over > self.linger_bytes:
                self._end()
            return
        before: RequestResponseCycle | None = self.cycle  # there is none before the first request
        if (before is None or before.response_complete) and "head" not in self._timers:
            self._within("head", self.head_s, self._end)
        super().data_received(data)
        self._look(before)

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """Give the connection to its socket, which has times of its own."""
        for name in list(self._timers):
            self._no_longer(name)
        if self._guests is not None:
            self._guests.busy(self._peer)
        super().handle_websocket_upgrade(event)

    def on_response_complete(self) -> None:
        """After an answer: rest, or let go of somebody who still sends."""
        before = self.cycle
        self._no_longer("pace")
        if self._guests is not None:
            self._guests.rest(self._peer)
        if self.conn.their_state is h11.SEND_BODY and not self.transport.is_closing():
            self._within("linger", self.linger_s, self._end)
        super().on_response_complete()
        self._look(before)

    def pause_writing(self) -> None:
        """Note that the visitor does not take what is sent."""
        super().pause_writing()
        self._within("stalled", self.stalled_s, self._end)

    def resume_writing(self) -> None:
        """Note that the visitor takes it again."""
        self._no_longer("stalled")
        super().resume_writing()

    def _look(self, before: object) -> None:
        """See whether a request has begun: its head is whole then, and its body must come on."""
        now: RequestResponseCycle | None = self.cycle
        if now is before or now is None or now.response_complete:
            return
        self._no_longer("head")
        if self._guests is not None:
            self._guests.busy(self._peer)
        if self.conn.their_state is h11.SEND_BODY:
            self._came = 0
            self._within("pace", self.pace_s, self._keep_pace)

    def _keep_pace(self) -> None:
        """End a connection whose body does not come on, unless it is we who do not read."""
        if self.conn.their_state is not h11.SEND_BODY:
            return
        if self._came < self.pace_bytes and not self.flow.read_paused:
            self._end()
            return
        self._came = 0
        self._within("pace", self.pace_s, self._keep_pace)

    def _end(self) -> None:
        self.transport.abort()

    def _within(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        self._no_longer(name)
        self._timers[name] = self.loop.call_later(seconds, self._due, name, act)

    def _due(self, name: str, act: Callable[[], None]) -> None:
        self._timers.pop(name, None)
        act()

    def _no_longer(self, name: str) -> None:
        timer = self._timers.pop(name, None)
        if timer is not None:
            timer.cancel()


MOST, WITHIN_S = 5, 60.0
LOGS = ("uvicorn.error", "uvicorn.asgi", "asyncio", "websockets.server")


class Sparse(logging.Filter):
    """Lets through so many lines alike in so long; the next after that says how many were left out."""

    def __init__(self, most: int = MOST, within_s: float = WITHIN_S) -> None:
        super().__init__()
        self._most, self._within_s = most, within_s
        self._seen: dict[tuple[object, ...], tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether a line is written."""
        raised = record.exc_info[0] if record.exc_info else None
        key = (record.name, record.levelno, str(record.msg).partition("\n")[0][:80], raised)
        now = time.monotonic()
        since, count = self._seen.get(key, (now, 0))
        if now - since >= self._within_s:
            if count > self._most:
                record.msg = f"({count - self._most} more like this were left out) {record.msg}"
            since, count = now, 0
        if len(self._seen) > 100:  # lines that name somebody are all different
            self._seen.clear()
        self._seen[key] = (since, count + 1)
        return count < self._most


def keep_logs_sparse() -> None:
    """Put it before the server's logs."""
    sparse = Sparse()
    for name in LOGS:
        log = logging.getLogger(name)
        for old in [each for each in log.filters if isinstance(each, Sparse)]:
            log.removeFilter(old)
        log.addFilter(sparse)
