"""A request as it comes over the wire, piece by piece: how much of it is read is counted."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.types import ASGIApp

PIECE = 1 << 16


@dataclass
class Sent:
    """Somebody who sends pieces for as long as they are taken, up to ``most`` of them."""

    head: bytes = b""
    piece: bytes = b"x" * PIECE
    most: int = 2000
    goes_away: bool = False
    read: int = 0  # pieces that were taken
    status: int = 0
    body: bytes = b""

    async def receive(self) -> dict[str, Any]:
        """Give the next piece."""
        self.read += 1
        if self.read == 1:
            return {"type": "http.request", "body": self.head, "more_body": True}
        if self.read > self.most:
            if self.goes_away:
                return {"type": "http.disconnect"}
            return {"type": "http.request", "body": b"", "more_body": False}
        return {"type": "http.request", "body": self.piece, "more_body": True}

    async def send(self, message: Mapping[str, Any]) -> None:
        """Take the answer."""
        if message["type"] == "http.response.start":
            self.status = message["status"]
        else:
            self.body += message.get("body", b"")


def post(app: ASGIApp, path: str, sent: Sent, **headers: str) -> Sent:
    """Post pieces to a route."""
    pairs = {"host": "testserver", "origin": "http://testserver", "accept": "application/json", **headers}
    scope = {
        "type": "http",
        "method": "POST",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "http_version": "1.1",
        "scheme": "http",
        "client": ("192.0.2.9", 4000),
        "server": ("testserver", 80),
        "headers": [(name.replace("_", "-").encode(), value.encode()) for name, value in pairs.items()],
        "state": {},
    }
    asyncio.run(_asked(app, scope, sent))
    return sent


async def _asked(app: ASGIApp, scope: dict[str, Any], sent: Sent) -> None:
    await app(scope, sent.receive, sent.send)
