"""The parts that run, as processes of their own: started, found, killed, started again; their disk and clock.

Conventions: only what a part started is ever killed, by its process id. A part's clock is the system's,
moved by ``clock.c`` where there is a C compiler; its disk is a file of its own mounted by
the loop device, where this user may mount.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

COMPILER = shutil.which("cc")
PATIENCE_S, LOOK_S = 90.0, 0.05
_LEFT = 1 << 15


USUAL = os.getpriority(os.PRIO_PROCESS, 0)
FIRST = -12


def go_first() -> None:
    """Let this process go before the parts, where this user may: its wires stand for a network."""
    with suppress(PermissionError):
        os.setpriority(os.PRIO_PROCESS, 0, FIRST)


def go_as_usual(pid: int) -> None:
    """Let what was started just now go as this process did at first."""
    with suppress(PermissionError, ProcessLookupError):
        os.setpriority(os.PRIO_PROCESS, pid, USUAL)


def end_in_order() -> None:
    """Let a termination signal end this program as an error does: parts end, and disks are given back."""
    signal.signal(signal.SIGTERM, lambda number, _frame: sys.exit(128 + number))


class NotReady(RuntimeError):
    """A part does not begin."""


class Part:
    """A program with its log; ``env`` comes on top of ours."""

    def __init__(
        self,
        name: str,
        command: Sequence[str],
        folder: Path,
        *,
        env: Mapping[str, str] | None = None,
        user: str | None = None,
        ready: Callable[[], bool] = lambda: True,
    ) -> None:
        self.name, self.command, self._ready, self._user = name, list(command), ready, user
        file = folder / name.replace(" ", "-")  # the loader of libraries takes no path with a space in it
        self.log, self._clock = file.with_suffix(".log"), file.with_suffix(".clock")
        self.env = {**os.environ, **(env or {})}
        self._process: subprocess.Popen[bytes] | None = None
        self.starts = 0

    def with_own_clock(self) -> Part:
        """Let its clock be moved."""
        library = self._clock.with_suffix(".so")
        source = str(Path(__file__).with_name("clock.c"))
        if COMPILER is not None and _run(COMPILER, "-shared", "-fPIC", "-O2", "-o", str(library), source):
            self.move_clock(0)
            self.env |= {"LD_PRELOAD": str(library), "SOAK_CLOCK": str(self._clock)}
        return self

    def move_clock(self, by_s: int) -> None:
        """Set its clock so many seconds from the system's."""
        if not self._clock.exists():
            self._clock.write_bytes(bytes(8))
        with self._clock.open("r+b") as file:
            file.write(by_s.to_bytes(8, sys.byteorder, signed=True))

    def start(self) -> None:
        """Start it, and wait until it is ready.

        Raises
        ------
        NotReady
            It ended at once, or takes too long.
        """
        self.starts += 1
        with self.log.open("ab") as out:
            self._process = subprocess.Popen(
                self.command,
                stdout=out,
                stderr=out,
                stdin=subprocess.DEVNULL,
                env=self.env,
                user=self._user,
            )
        go_as_usual(self.pid)
        end_s = time.monotonic() + PATIENCE_S
        while not self._ready():
            if self._process.poll() is not None or time.monotonic() > end_s:
                raise NotReady(f"{self.name} does not begin; the end of its log:\n{self.last_words()}")
            time.sleep(LOOK_S)

    @property
    def pid(self) -> int:
        """Its process id."""
        if self._process is None:
            raise NotReady(f"{self.name} does not run")
        return self._process.pid

    def lives(self) -> bool:
        """Tell whether it runs."""
        return self._process is not None and self._process.poll() is None

    def kill(self) -> None:
        """End it and all that it started at once, as the machine's going down does."""
        below = descendants(self.pid) if self.lives() else []
        self._end(signal.SIGKILL)
        for each in below:
            kill(each)

    def kill_alone(self) -> None:
        """End its first process at once; what it started is left to itself."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """End it in order."""
        self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            with suppress(ProcessLookupError):
                self._process.send_signal(how)
            try:
                self._process.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait(PATIENCE_S)

    def last_words(self) -> str:
        """Give the end of its log."""
        text = self.log.read_text("utf-8", errors="replace") if self.log.exists() else ""
        return text[-2000:]


def kill(pid: int) -> bool:
    """End a process at once; tell whether it was there."""
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return False
    return True


def command_of(pid: int) -> str:
    """Say in a word what a process is."""
    with suppress(OSError):
        said = Path(f"/proc/{pid}/cmdline").read_bytes().decode(errors="replace")
        words = {
            "spawn_main": "a process",
            "decoding_child": "what decodes",
            "tracker": "a helper of Python's",
        }
        return next((word for sign, word in words.items() if sign in said), "a process")
    return "a process"


def descendants(pid: int) -> list[int]:
    """List what a process started, and what that started."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError, IndexError):
                above = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
                parents.setdefault(above, []).append(int(entry.name))
    found, waiting = [], [pid]
    while waiting:
        below = parents.get(waiting.pop(), [])
        found += below
        waiting += below
    return found


def resident_mb(pids: Sequence[int]) -> float:
    """Return how much memory processes hold, MB (10^6 bytes), pages that they share counted by share."""
    total = 0
    for pid in pids:
        with suppress(OSError, IndexError, ValueError):
            text = Path(f"/proc/{pid}/smaps_rollup").read_text("ascii")
            total += int(text.partition("\nPss:")[2].split()[0]) * 1024
    return total / 1e6


class Disk:
    """A small file system of its own, that can be filled to the last bytes and emptied again."""

    def __init__(self, folder: Path, size_mb: int) -> None:
        self.place, self._image, self._size_mb = folder / "disk", folder / "disk.image", size_mb
        self.is_own = False

    def mount(self) -> None:
        """Make it; where this user may not mount, it is a folder like any other, and cannot be filled."""
        self.place.mkdir(parents=True)
        with self._image.open("wb") as file:
            file.truncate(self._size_mb << 20)
        made = _run("mkfs.ext4", "-q", "-m", "0", "-O", "^has_journal", str(self._image))
        self.is_own = made and _run("mount", "-o", "loop", str(self._image), str(self.place))
        if self.is_own:
            shutil.rmtree(self.place / "lost+found")

    def fill(self) -> int:
        """Leave next to nothing free; tell how many bytes that took."""
        ballast, taken = self.place / "ballast", 0
        with ballast.open("wb", buffering=0) as file:
            while (free := shutil.disk_usage(self.place).free) > _LEFT:
                try:
                    os.posix_fallocate(file.fileno(), taken, free - _LEFT // 2)
                    taken += free - _LEFT // 2
                except OSError:
                    break
        return taken

    def empty(self) -> None:
        """Give the room back."""
        (self.place / "ballast").unlink(missing_ok=True)

    def unmount(self) -> None:
        """Let it go."""
        if self.is_own:
            _run("umount", "-l", str(self.place))
        self._image.unlink(missing_ok=True)


def _run(*command: str) -> bool:
    if shutil.which(command[0]) is None:
        return False
    return subprocess.run(command, check=False, capture_output=True).returncode == 0
