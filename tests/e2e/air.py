"""A room of sound for engines, and the programs that are run for them.

PulseAudio makes a loudspeaker and a microphone that hears it; no sound card is needed. What a program says
is in its log, which is read until it says what is waited for.

The room itself loses nothing: it runs in real time. An engine's own threads of sound do not all, and what
one of them comes too late for is lost. So one test plays at a time, and all that it runs goes before other
work meanwhile. How long the room itself had to wait nevertheless, the kernel has counted: more than a little,
and the machine had too much to do.
"""

from __future__ import annotations

import fcntl
import os
import re
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TypeVar

NEEDED: dict[str, tuple[str, ...]] = {
    "chromium": ("chromium", "chromium-browser", "google-chrome"),
    "firefox": ("firefox-esr", "firefox"),
    "webkit": ("WebKitWebDriver",),
    "display": ("Xvfb",),
    "air": ("pulseaudio",),
}
PATIENCE_S, LOOK_S = 40.0, 0.05
AIR_HZ = 48_000
FIRST, AS_OTHERS = -15, 0  # niceness
SHORT_S = 0.1  # measured: under 0.01 s with no engine in the room, 0.3 to 0.9 s with one on a busy machine
Found = TypeVar("Found")
WIRELESS_MS = 200


def program(kind: str) -> str | None:
    """Return where an engine's program lies, None where it is not installed."""
    return next((path for name in NEEDED[kind] if (path := shutil.which(name))), None)


@contextmanager
def running(
    command: list[str], log: Path, surroundings: dict[str, str] | None = None
) -> Iterator[subprocess.Popen[bytes]]:
    with log.open("wb") as out:
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, env=surroundings)
        try:
            yield process
        finally:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _until(holds: Callable[[], Found], log: Path, process: subprocess.Popen[bytes]) -> Found:
    end_s = time.monotonic() + PATIENCE_S
    while not (found := holds()):
        assert process.poll() is None, log.read_text(errors="replace")
        assert time.monotonic() < end_s, log.read_text(errors="replace")
        time.sleep(LOOK_S)
    return found


def until_said(log: Path, wanted: re.Pattern[bytes], process: subprocess.Popen[bytes]) -> str:
    found = _until(lambda: wanted.search(log.read_bytes()), log, process)
    assert found is not None
    return found[1].decode()


def _run_from_here() -> list[int]:
    """List the processes that this one runs, and that those run."""
    children: dict[int, list[int]] = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):  # it has just ended
            parent = int(path.read_text(errors="replace").rpartition(")")[2].split()[1])
            children.setdefault(parent, []).append(int(path.parent.name))
    found = list(children.get(os.getpid(), ()))
    for pid in found:
        found += children.get(pid, ())
    return found


def _renice(before: int, after: int) -> None:
    """Turn the niceness of all that is run from here into another, where the machine allows it.

    Linux shares its time among sessions first (``man 7 sched``, autogroup), and a browser has one of its own.
    """
    for process in (Path("/proc") / str(pid) for pid in _run_from_here()):
        for thread in (int(path.name) for path in process.glob("task/*")):
            with suppress(OSError):  # it has just ended, or this user may not
                if os.getpriority(os.PRIO_PROCESS, thread) == before:
                    os.setpriority(os.PRIO_PROCESS, thread, after)
        with suppress(OSError):
            (process / "autogroup").write_text(str(after), "ascii")


class Air:
    """A sound server of its own: a loudspeaker and a microphone in one room.

    ``turn`` is a file that all rooms of this run share: whoever has it locked plays. ``waited_s`` is how long
    the sound server, while the room last sounded, was ready and had no processor.
    """

    waited_s = 0.0

    def __init__(self, folder: Path, turn: Path) -> None:
        self._folder, self._turn, self._ends = folder, turn, ExitStack()
        socket = folder / "sound"
        self.surroundings: dict[str, str] = {
            **os.environ,
            "PULSE_SERVER": f"unix:{socket}",
            "XDG_RUNTIME_DIR": str(folder),
            "PULSE_COOKIE": str(folder / "cookie"),
        }
        loads = (
            f"module-native-protocol-unix socket={socket} auth-anonymous=1",
            f"module-null-sink sink_name=air rate={AIR_HZ}",
            "module-remap-source source_name=microphone master=air.monitor",
        )
        command = [str(program("air")), "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1"]
        log = folder / "sound.log"
        sounds = running([*command, *(f"--load={each}" for each in loads)], log, self.surroundings)
        process = self._ends.enter_context(sounds)
        _until(socket.exists, log, process)
        self._server = Path(f"/proc/{process.pid}")
        self._do("pactl", "set-default-source", "microphone")

    def _do(self, *command: str, must: bool = True) -> str:
        asked = subprocess.run(
            command, env=self.surroundings, check=must, timeout=PATIENCE_S, capture_output=True, text=True
        )
        return asked.stdout.strip()

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Wait until no other room sounds; until the end of it, what is run here goes first."""
        with self._turn.open("w") as turn:
            fcntl.flock(turn, fcntl.LOCK_EX)
            _renice(AS_OTHERS, FIRST)
            before = self._waited_s()
            try:
                yield
            finally:
                self.waited_s = self._waited_s() - before
                _renice(FIRST, AS_OTHERS)

    def _waited_s(self) -> float:
        waits = [path.read_text("ascii").split()[1] for path in self._server.glob("task/*/schedstat")]
        return sum(map(int, waits)) / 1e9

    @property
    def was_short_of_time(self) -> bool:
        """Tell whether the machine had so much else to do, while it last sounded, that sound may be lost."""
        return self.waited_s > SHORT_S

    def play(self, wav: bytes) -> None:
        """Let a take sound, to its end."""
        _renice(AS_OTHERS, FIRST)  # what began with the recording, too
        path = self._folder / "take.wav"
        path.write_bytes(wav)
        self._do("paplay", str(path))

    @contextmanager
    def wireless(self) -> Iterator[None]:
        """Let what a page plays sound ``WIRELESS_MS`` later, as wireless headphones do."""
        path = ("source=wireless.monitor", "sink=air", f"latency_msec={WIRELESS_MS}")
        modules = [
            self._do("pactl", "load-module", "module-null-sink", "sink_name=wireless", f"rate={AIR_HZ}"),
            self._do("pactl", "load-module", "module-loopback", *path),
        ]
        try:
            self._move_to("wireless")
            yield
            self._move_to("air")
        finally:
            for module in reversed(modules):
                self._do("pactl", "unload-module", module)

    def _move_to(self, sink: str) -> None:
        """Lead the pages' sound elsewhere; what has no client is the loop itself."""
        self._do("pactl", "set-default-sink", sink)
        inputs = [line.split("\t") for line in self._do("pactl", "list", "short", "sink-inputs").splitlines()]
        for number, _, client, *_ in inputs:
            if client != "-":
                self._do("pactl", "move-sink-input", number, sink, must=False)  # it may have ended

    def close(self) -> None:
        """End it."""
        self._ends.close()
