"""Several processes serve one studio: real ones, on a real Postgres, which are killed and ended."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import httpx2
import pytest

from evenhand.studio.store.layout import Backing
from tests.e2e.served import Served
from tests.places import empty
from tests.postgres import Server
from tests.studios import a_studio

PATIENCE_S, LOOK_S = 30.0, 0.05
TOKEN = "by-chance-" * 2
AUTHORIZED = {"authorization": f"Bearer {TOKEN}"}


@pytest.fixture
def url(postgres: Server) -> str:
    """Give the address of an empty Postgres, as a person types it."""
    found = postgres.url.set(drivername="postgresql").render_as_string(hide_password=False)
    empty(found)
    return found


@pytest.fixture
def data(tmp_path: Path, url: str) -> Path:
    """Give the folder of a new studio in that Postgres."""
    a_studio(tmp_path, backing=Backing(url)).close()
    return tmp_path / "studio"


def until(holds: Callable[[], object]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(LOOK_S)


def children(pid: int) -> list[int]:
    """List the interpreters that a process has begun, but for Python's own helper."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it ended in the meantime
            parent = int((place / "stat").read_text("utf-8").rpartition(")")[2].split()[1])
            if parent == pid and b"spawn_main" in (place / "cmdline").read_bytes():
                found.append(int(place.name))
    return found


def answered(served: Served) -> int:
    """Read how many requests were answered."""
    lines = httpx2.get(f"{served.address}/metrics", headers=AUTHORIZED).text.splitlines()
    return sum(int(line.rpartition(" ")[2]) for line in lines if line.startswith("evenhand_requests_total"))


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at /proc")
def test_two_processes_serve_one_address_and_one_that_dies_is_replaced(data: Path, url: str) -> None:
    """The figures are of both, and never go back: what the dead one counted stays counted."""
    options = ("--database", url, "--processes", "2", "--metrics-token", TOKEN)
    with Served(data, *options, workers=0) as served:
        until(lambda: len(children(served.pid)) == 2)
        before, asked = answered(served), 20
        for _ in range(asked):
            assert httpx2.get(f"{served.address}/health").status_code == 200
        assert answered(served) == before + asked + 1
        first = children(served.pid)
        os.kill(first[0], signal.SIGKILL)
        for _ in range(asked):
            assert httpx2.get(f"{served.address}/health").status_code == 200
        until(lambda: len(set(children(served.pid)) - {first[0]}) == 2)
        assert answered(served) >= before + 2 * asked + 2
        left = children(served.pid)
    assert [pid for pid in left if Path(f"/proc/{pid}").exists()] == []
    assert "The studio is closed." in served.log()
    assert "Traceback" not in served.log()
