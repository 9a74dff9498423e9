"""Who may be connected: so many at once, so many from one address, and who idles makes room.

Conventions: a guest is one connection, known by its peer (address and port). It is busy from the moment
when a request's head is whole until its answer is sent, or as long as its socket lasts; else it is idle,
and the one that idles longest goes when there is no room for another. Only when all are busy is somebody
turned away. Everything here happens on the event loop's thread.
"""

from __future__ import annotations

import os
import socket
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any

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
