"""A studio's real server in this process, on loopback, for attacks that need a wire."""

from __future__ import annotations

import asyncio
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn

from evenhand.studio.store.studio import Studio
from evenhand.web import serving
from evenhand.web.serving import Secured, Served, WebSettings, bind, self_made
from evenhand.web.wire import Entrance, Guests
from tests.studios import a_studio

PATIENCE_S = 20.0
GET = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


@dataclass
class Here:
    """A server that runs; ``guests`` counts who is connected."""

    port: int
    guests: Guests
    studio: Studio
    secured: Secured | None = None
    opened: list[socket.socket] = field(default_factory=list)

    def trusting(self) -> ssl.SSLContext:
        """Give a client's settings that trust the certificate made here."""
        assert self.secured is not None
        return ssl.create_default_context(cafile=str(self.secured.certificate))

    def connect(self, first: bytes = b"") -> socket.socket:
        """Connect, and send the first bytes; it is closed at the end of the test."""
        made = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S)
        self.opened.append(made)
        if first:
            made.sendall(first)
        return made

    def health(self) -> bytes:
        """Ask a whole request, and give the answer's first line."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S) as asking:
            asking.sendall(GET)
            return asking.recv(1000).partition(b"\r\n")[0]


def is_ended(asking: socket.socket) -> bool:
    """Wait until the other side has ended; False where it does not in time."""
    try:
        while asking.recv(1 << 16):
            pass
    except TimeoutError:
        return False
    except OSError:
        return True
    return True


@contextmanager
def a_server(
    folder: Path, *, most: int = 100, most_from_one: int = 100, https: bool = False
) -> Iterator[Here]:
    """Run a server as ``evenhand serve`` does, with so much room."""
    a_studio(folder).close()
    guests = Guests(most, most_from_one)
    bound = bind("127.0.0.1", 0)
    port = bound.getsockname()[1]
    settings = WebSettings(folder / "studio", hosts=("127.0.0.1",), workers=0, secure=https)
    secured = self_made(folder / "studio", "127.0.0.1") if https else None
    config = serving._config(settings, Served("127.0.0.1", port, (), secured), guests)  # noqa: SLF001 - as serve() does
    server = uvicorn.Server(config)
    entrance = Entrance.of(bound, guests)
    thread = threading.Thread(target=lambda: asyncio.run(server._serve([entrance])))  # noqa: SLF001 - run() takes the signals
    thread.start()
    here = Here(port, guests, config.app.state.school.front, secured)  # type: ignore[union-attr]
    try:
        yield here
    finally:
        for made in here.opened:
            made.close()
        server.should_exit = True
        thread.join(PATIENCE_S)
        entrance.close()
    assert not thread.is_alive()
