"""A studio as a real server process, which tests may kill."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import IO, Self

import httpx2

PATIENCE_S = 60.0
LOOK_S = 0.02  # between two looks at what is waited for
OPEN = re.compile(r"open\s+(http://\S+)")


class Served:
    """``evenhand serve`` on a studio's folder; ``address`` without a slash at the end."""

    def __init__(
        self, data: Path, *options: str, workers: int = 1, password: str = "", demo: bool = False
    ) -> None:
        self.data, self.workers, self._options = data, workers, (*options, *(["--demo"] if demo else []))
        self._password, self._port = password, 0
        self._log = data.with_name(f"{data.name}-{id(self)}.log")
        self._process: subprocess.Popen[bytes] | None = None
        self._out: IO[bytes] | None = None
        self.address = ""

    def start(self) -> Self:
        """Start it, and wait until it answers; after a first time, on the same port."""
        command = [sys.executable, "-m", "evenhand", "serve", "--data", str(self.data)]
        command += ["--port", str(self._port), "--workers", str(self.workers)]
        command += self._options
        surroundings = {**os.environ, "EVENHAND_PASSWORD": self._password} if self._password else None
        begin = self._log.stat().st_size if self._log.exists() else 0
        self._out = self._log.open("ab")
        self._process = subprocess.Popen(
            command, stdout=self._out, stderr=subprocess.STDOUT, env=surroundings
        )
        found = OPEN.search(self._until_open(begin))
        assert found is not None
        self.address = found[1]
        self._port = int(self.address.rpartition(":")[2])
        assert httpx2.get(f"{self.address}/health", timeout=PATIENCE_S).status_code == 200, self.log()
        return self

    def _until_open(self, begin: int) -> str:
        end_s = time.monotonic() + PATIENCE_S
        while True:
            said = self._log.read_bytes()[begin:].decode(errors="replace")
            if OPEN.search(said) and "Ctrl-C ends it." in said:
                return said
            assert self._process is not None
            assert self._process.poll() is None, f"the server ended at once:\n{self.log()}"
            assert time.monotonic() < end_s, f"the server does not begin:\n{self.log()}"
            time.sleep(LOOK_S)

    @property
    def pid(self) -> int:
        """The server's process id."""
        assert self._process is not None
        return self._process.pid

    def kill(self) -> None:
        """End it at once, as a power cut does (kill -9)."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """End it as its user does."""
        self._end(signal.SIGINT)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(PATIENCE_S)
            self._process = None
        if self._out is not None:
            self._out.close()
            self._out = None

    def log(self) -> str:
        """Give what it said so far."""
        return self._log.read_text("utf-8", errors="replace")

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_error: object) -> None:
        self.stop()
