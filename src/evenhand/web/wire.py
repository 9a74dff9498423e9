"""Connections: who may be connected, and a time for everything that a visitor may take.

Conventions: s. A request's head must be whole within ``HEAD_S`` of its first byte (or of the connection);
its body must come on at a least pace; an answer that nobody takes ends the connection. What is left of a
body after its answer is read for a moment, so that the answer arrives, and then the connection ends.

Of lines alike the log takes a few a minute, then their number: it does not grow with what strangers send.

So many are connected at once, so many from one address, and who idles makes room. A guest is one connection,
known by its peer (address and port). It is busy from the moment when a request's head is whole until its
answer is sent, or as long as its socket lasts; else it is idle, and the one that idles longest goes when
there is no room for another. Only when all are busy is somebody turned away. Everything here happens on the
event loop's thread.
"""

from __future__ import annotations

import asyncio
import logging
import os
import socket
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

Peer = tuple[Any, ...]

MOST_GUESTS = 1000
RESERVE = 256  # descriptors kept for recordings, the database and the workers' pipes
BATCH = 64  # connections taken up at a time
WANTED_DESCRIPTORS = 4096


class Guests:
    """The connections of a server, each until it is closed."""

    def __init__(self, most: int, most_from_one: int) -> None:
        self._most, self._most_from_one = most, most_from_one
        self._idle: dict[Peer, Guest] = {}  # in the order in which they began to idle
        self._all: dict[Peer, Guest] = {}
        self._from: Counter[str] = Counter()
        self.turned_away = self.sent_away = 0

    def __len__(self) -> int:
        return len(self._all)

    def come(self, guest: Guest, peer: Peer) -> bool:
        """Let a guest in; tell whether there was room or could be made."""
        host = str(peer[0])
        crowd = self._from[host] >= self._most_from_one
        full = len(self._all) >= self._most
        if (crowd and not self._send_away(host)) or (full and not crowd and not self._send_away(None)):
            self.turned_away += 1
            return False
        self._all[peer] = self._idle[peer] = guest
        self._from[host] += 1
        return True

    def busy(self, peer: Peer | None) -> None:
        """Note that a guest's request is whole: it may stay until it is answered."""
        if peer is not None:
            self._idle.pop(peer, None)

    def rest(self, peer: Peer | None) -> None:
        """Note that a guest was answered and has asked for nothing since."""
        if peer in self._all:
            self._idle[peer] = self._all[peer]

    def left(self, peer: Peer) -> None:
        """Note that a guest is gone."""
        self._idle.pop(peer, None)
        if self._all.pop(peer, None) is not None:
            host = str(peer[0])
            self._from[host] -= 1
            if not self._from[host]:
                del self._from[host]

    def _send_away(self, host: str | None) -> bool:
        """End the connection that idles longest, of one address or, where it is all, of the fullest."""
        if host is None and self._idle:
            host = max({str(peer[0]) for peer in self._idle}, key=lambda each: self._from[each])
        for peer, guest in self._idle.items():
            if str(peer[0]) == host:
                self.left(peer)
                self.sent_away += 1
                guest.end()
                return True
        return False


class Guest(socket.socket):
    """A connection that says when it is closed."""

    gone: Callable[[], None] | None = None

    def end(self) -> None:
        """End it from here: whoever reads it sees that it ended."""
        with suppress(OSError):
            self.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Close it, and say so once."""
        super().close()
        gone, self.gone = self.gone, None
        if gone is not None:
            gone()


class Entrance(socket.socket):
    """A listening socket that takes up only whom the guests have room for.

    A spare descriptor is kept: when the system has none left, it is given up for a moment to take the next
    connection and close it. Otherwise the connection would wait, and the loop would be told of it for ever.
    """

    guests: Guests
    ended: Callable[[], None] | None = None  # called when it is closed, before who is connected is waited for
    _spare: int | None = None

    @classmethod
    def of(cls, bound: socket.socket, guests: Guests) -> Entrance:
        """Make an entrance of a socket that listens already; the other is then empty."""
        made = cls(bound.family, bound.type, bound.proto, fileno=bound.detach())
        made.guests = guests
        made._spare = _spare()
        return made

    def accept(self) -> tuple[socket.socket, Any]:
        """Take up the next connection that there is room for, and turn the others away, so many at a time."""
        for _ in range(BATCH):
            try:
                taken, peer = super().accept()
            except BlockingIOError:
                raise
            except OSError:
                self._shed()
                break
            guest = Guest(taken.family, taken.type, taken.proto, fileno=taken.detach())
            if self.guests.come(guest, peer):
                guest.gone = partial(self.guests.left, peer)
                return guest, peer
            guest.close()
        raise BlockingIOError

    def _shed(self) -> None:
        """Close the next connection without taking it up."""
        if self._spare is not None:
            os.close(self._spare)
            self._spare = None
        with suppress(OSError):
            super().accept()[0].close()
        self._spare = _spare()

    def close(self) -> None:
        """Close it, with what it holds."""
        super().close()
        if self.ended is not None:
            self.ended()
        if self._spare is not None:
            os.close(self._spare)
            self._spare = None


def _spare() -> int | None:
    try:
        return os.open(os.devnull, os.O_RDONLY)
    except OSError:
        return None


def room_of_this_system(reserve: int = RESERVE, most: int = MOST_GUESTS) -> int:
    """Ask the system for descriptors, and tell how many guests leave the reserve."""
    try:
        import resource
    except ImportError:  # a system without such limits
        return most
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = WANTED_DESCRIPTORS if hard == resource.RLIM_INFINITY else min(WANTED_DESCRIPTORS, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        with suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
            soft = wanted
    if soft == resource.RLIM_INFINITY:
        return most
    return max(16, min(most, soft - reserve))


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
