"""What the server says of itself to whoever runs it: lines of JSON for requests and warnings, and figures.

Conventions: ms; UTC. No line names a person, a recording or an address: a request is named by its route as
the table writes it, a warning by its fixed words, an error by its kind and where in the code it was.
"""

from __future__ import annotations

import json
import logging
import re
import threading
import time
import traceback
from collections.abc import Callable, Mapping, MutableSequence, Sequence
from datetime import UTC, datetime
from itertools import accumulate
from typing import IO, NamedTuple

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from evenhand.studio.traces import traced
from evenhand.studio.values import TakeStatus
from evenhand.studio.work.children import HEARING_S

ROUTE = "evenhand.route"  # in a request's scope: its route, as the table writes it
REQUESTS = "evenhand.requests"
_LEFT_OUT = re.compile(r"\((\d+) more like this were left out\) ")  # as wire.py writes it
_VARIABLE = re.compile(r"[\n(<:%]")  # from here on a warning's words may be of whoever asked


class Answered(NamedTuple):
    """A request that is over; ``status`` is None where nobody waited for the answer, 101 of a socket."""

    method: str
    route: str
    status: int | None
    ms: float


class Observed:
    """Tells of each request when it is over."""

    def __init__(self, app: ASGIApp, tell: Callable[[Answered], None]) -> None:
        self._app, self._tell = app, tell

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        began_s, seen = time.monotonic(), list[int]()

        async def noted(message: Message) -> None:
            seen.extend(_status_of(message))
            await send(message)

        try:
            await self._app(scope, receive, noted)
        except Exception:
            seen.append(500)
            raise
        finally:
            ms = 1000 * (time.monotonic() - began_s)
            self._tell(Answered(scope.get("method", "GET"), _route_of(scope), seen[0] if seen else None, ms))


def _status_of(message: Message) -> tuple[int, ...]:
    """Read the status off an answer's beginning; a socket that is closed before it opened was refused."""
    if message["type"] == "http.response.start":
        return (int(message["status"]),)
    return {"websocket.accept": (101,), "websocket.close": (403,)}.get(message["type"], ())


def _route_of(scope: Scope) -> str:
    usual = "/static" if str(scope.get("path", "")).startswith("/static/") else "none"
    return str(scope.get(ROUTE, usual))


def log_request(answered: Answered) -> None:
    """Write a request's line."""
    logging.getLogger(REQUESTS).info("request", extra={"answered": answered})


def trace_request(answered: Answered) -> None:
    """Give a request's span, named as its route."""
    method, route, status, ms = answered
    known = {} if status is None else {"http.response.status_code": status}
    attributes: dict[str, str | int] = {"http.request.method": method, "http.route": route, **known}
    traced(f"{method} {route}", ms / 1000, attributes, failed=status is not None and status >= FAILED)


FAILED = 500
KINDS = ("1xx", "2xx", "3xx", "4xx", "5xx", "none")


class Requests:
    """Counts requests by the first digit of their answer's status.

    ``counts`` is shared by all processes of a server: each writes in a row of its own, ``KINDS`` long, and
    who replaces one that died adds to its row; so the sum never goes back.
    """

    def __init__(self, counts: MutableSequence[float] | None = None, number: int = 0) -> None:
        self._counts = [0.0] * len(KINDS) if counts is None else counts
        self._first = number * len(KINDS)
        self._lock = threading.Lock()

    def count(self, answered: Answered) -> None:
        """Count one more."""
        kind = f"{answered.status // 100}xx" if answered.status else "none"
        with self._lock:
            self._counts[self._first + KINDS.index(kind)] += 1

    def counts(self) -> dict[str, int]:
        """Return how many there were of each that there was, in all processes."""
        sums = (int(sum(self._counts[at :: len(KINDS)])) for at in range(len(KINDS)))
        return {kind: n for kind, n in zip(KINDS, sums, strict=True) if n}


def metrics_text(
    takes: Mapping[TakeStatus, int], hearings: Sequence[float], requests: Mapping[str, int]
) -> str:
    """Write the figures in the OpenMetrics text format, version 1.0.0.

    ``hearings`` are counts up to each of ``HEARING_S`` and longer, then their sum, s.
    """
    *counts, total_s = hearings
    ends = [*map(str, HEARING_S), "+Inf"]
    return "\n".join(
        [
            "# TYPE evenhand_takes gauge",
            "# HELP evenhand_takes Takes that are kept, by how far their hearing is.",
            *(f'evenhand_takes{{status="{status}"}} {n}' for status, n in takes.items()),
            "# TYPE evenhand_hearing_seconds histogram",
            "# UNIT evenhand_hearing_seconds seconds",
            "# HELP evenhand_hearing_seconds How long a worker had a take in hand, since the server's start.",
            *(
                f'evenhand_hearing_seconds_bucket{{le="{end}"}} {n:.0f}'
                for end, n in zip(ends, accumulate(counts), strict=True)
            ),
            f"evenhand_hearing_seconds_count {sum(counts):.0f}",
            f"evenhand_hearing_seconds_sum {total_s}",
            "# TYPE evenhand_requests counter",
            "# HELP evenhand_requests Requests answered since the server's start, by their status.",
            *(f'evenhand_requests_total{{status="{kind}"}} {n}' for kind, n in requests.items()),
            "# EOF\n",
        ]
    )


class JsonLines(logging.Formatter):
    """Writes a line of the log as JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Say when, how grave, and what."""
        words = str(record.msg)
        left_out = _LEFT_OUT.match(words)
        line: dict[str, object] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": _VARIABLE.split(words[left_out.end() if left_out else 0 :], maxsplit=1)[0].strip(),
        }
        if left_out:
            line["left_out"] = int(left_out[1])
        answered: Answered | None = getattr(record, "answered", None)
        if answered is not None:
            line |= {**answered._asdict(), "ms": round(answered.ms, 1)}
        if record.exc_info and record.exc_info[0] is not None:
            frames = traceback.extract_tb(record.exc_info[2])
            line["error"] = record.exc_info[0].__name__
            line["at"] = [f"{frame.name}:{frame.lineno}" for frame in frames[-5:]]
        return json.dumps(line)


def log_as_json(to: IO[str] | None = None) -> None:
    """Let all that is logged in this process be lines of JSON, on stderr if nothing else is named."""
    handler = logging.StreamHandler(to)
    handler.setFormatter(JsonLines())
    for name in ("", "uvicorn"):  # the root, and the server's own, which passes nothing on to it
        log = logging.getLogger(name)
        for old in list(log.handlers):
            log.removeHandler(old)
        log.addHandler(handler)
    logging.getLogger("uvicorn").propagate = False
    logging.getLogger(REQUESTS).setLevel(logging.INFO)
