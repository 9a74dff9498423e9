"""A log that does not grow with what strangers send: of lines alike, a few a minute, then their number."""

from __future__ import annotations

import logging
import time

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
