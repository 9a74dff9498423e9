"""The decoder's parent side: one child process, started when first needed, kept for the next takes.

The child is a fresh interpreter, never a fork, so it is the same on every system, inside a pool
of processes too. It is ended when it stalls, breaks, or is left in the middle of an answer, and
with the process that started it.
"""

from __future__ import annotations

import atexit
import contextlib
import importlib.util
import json
import os
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, BinaryIO

STALL_S = 20.0  # no answer for so long, and the file has the decoder in a knot
GOES_S = 2.0  # after its last word; who stays is ended
TOTAL_S = 900  # three hours of sound take a twentieth of it
LARGEST_MESSAGE = 1 << 24
PIPE_BYTES = 1 << 20
READ_WITHOUT = {".wav", ".mid", ".midi"}  # a decoder seldom has to help with these
Asked = dict[str, object]
_HEAD = struct.Struct("<cI")
_LAST = {b"e", b"x"}
_PASSED_ON = {"LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"}  # of our environment, which holds passwords
_ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1"}
_CHILD = Path(__file__).with_name("decoding_child.py")


class DecoderEnded(Exception):
    """The child ended in the middle of its work. ``why`` says how, in words for a person."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


@dataclass(slots=True)
class Deadline:
    """The moment, in seconds of the monotonic clock, at which patience ends."""

    stall_s: float
    last_s: float
    next_s: float = 0.0
    passed: bool = False

    def push(self) -> None:
        """Wait anew, since something came."""
        self.next_s = min(time.monotonic() + self.stall_s, self.last_s)


class Decoder:
    """A decoding child and the pipe to it. Answers one request at a time; safe between threads."""

    def __init__(self, *, stall_s: float = STALL_S, total_s: int = TOTAL_S) -> None:
        self.stall_s, self.total_s = stall_s, total_s
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._asking: socket.socket | None = None

    def start(self) -> None:
        """Start the child, unless it runs; returns at once, while the child loads its library."""
        if self._child is not None and self._child.poll() is None:
            return
        self.stop()
        library = importlib.util.find_spec("av")
        if library is None or library.origin is None:
            raise DecoderEnded("the library that decodes (av) is not installed")
        self._asking, its_end = socket.socketpair()
        with its_end:
            self._child = subprocess.Popen(  # noqa: S603 - our own interpreter and our own file, no shell
                [sys.executable, "-I", "-S", str(_CHILD), str(Path(library.origin).parents[1])],
                stdin=its_end.fileno(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env={name: os.environ[name] for name in _PASSED_ON & os.environ.keys()} | _ONE_THREAD,
                process_group=0,  # with the process that it starts for a recording
            )

    def stop(self) -> None:
        """End the child."""
        child, self._child = self._child, None
        self._let_go()
        if child is not None:
            _kill(child)
            child.wait()

    def forget(self) -> None:
        """Let go of a child that belongs to the process we were forked from."""
        child, self._child = self._child, None
        self._lock = threading.Lock()
        self._let_go()
        if child is not None:
            child.returncode = 0  # not ours to wait for

    def _let_go(self) -> None:
        """Close our end of what requests go through."""
        if self._asking is not None:
            self._asking.close()
        self._asking = None

    def messages(self, path: Path, film: Asked | None = None) -> Generator[tuple[bytes, bytearray]]:
        """Decode a file's sound, or look at its pictures: give the child's messages, the last ``e`` or ``x``.

        Raises
        ------
        DecoderEnded
            The child stalled, ran out of its limits, or crashed.
        """
        asked: Asked = {} if film is None else {"film": film}
        with self._lock, _opened(path) as file:
            finished = False
            try:
                for kind, body in self._answers(asked, file.fileno()):
                    finished = kind in _LAST
                    yield kind, body
            finally:
                if not finished:
                    self.stop()

    def could(self) -> list[str]:
        """Let the child try what a recording must not do; list what it could reach.

        That is ``files``, ``network`` and ``programs``, or as far as it is closed off, fewer or none.

        Raises
        ------
        DecoderEnded
            There is no decoder.
        """
        with self._lock:
            (_, body), *_ = self._answers({"tries": True})
        return list(json.loads(body)["could"])

    def _answers(self, asked: Asked, *recording: int) -> Iterator[tuple[bytes, bytearray]]:
        """Send a request with an opened recording; read messages to the last, while they come in time.

        With the last one, who answered is gone.
        """
        request = json.dumps(asked | {"cpu_s": self.total_s}).encode() + b"\n"
        reads, writes = os.pipe()
        with open(reads, "rb", buffering=0) as answers:  # noqa: PTH123 - a pipe
            try:
                child = self._send(request, [writes, *recording])
            finally:
                os.close(writes)
            _widen(answers)
            deadline = Deadline(self.stall_s, time.monotonic() + self.total_s)
            deadline.push()
            done = threading.Event()
            watch = threading.Thread(target=_kill_when_late, args=(child, deadline, done), daemon=True)
            watch.start()
            try:
                while (message := _read_message(answers)) is not None:
                    last = message[0] in _LAST
                    deadline.stall_s = GOES_S if last else self.stall_s
                    deadline.push()
                    if last and answers.read(1):
                        break
                    if deadline.passed:
                        self.stop()
                    yield message
                    if last:
                        return
                raise DecoderEnded(self._how_it_ended(child, deadline))
            finally:
                done.set()

    def _send(self, request: bytes, files: list[int]) -> subprocess.Popen[bytes]:
        """Hand the request to a living child; one that died while it was idle is replaced once."""
        for _ in range(2):
            self.start()
            child, asking = self._child, self._asking
            if child is None or asking is None:
                continue
            try:
                asking.sendall(request[socket.send_fds(asking, [request], files) :])
            except OSError:
                self.stop()
                continue
            return child
        raise DecoderEnded("the decoder does not start")

    def _how_it_ended(self, child: subprocess.Popen[bytes], deadline: Deadline) -> str:
        """Say in words why there is no answer."""
        if deadline.passed:
            late = time.monotonic() >= deadline.last_s
            waited = self.total_s if late else self.stall_s
            return f"decoding it did not end within {waited:g} s"
        with contextlib.suppress(subprocess.TimeoutExpired):
            child.wait(2.0)
        return f"the decoder failed on it (ended with {child.returncode})"


def _opened(path: Path) -> BinaryIO:
    """Open a recording for the child, which opens nothing."""
    try:
        return path.open("rb", buffering=0)
    except OSError as error:
        raise DecoderEnded(f"it cannot be opened: {error.strerror}") from None


def _kill_when_late(child: subprocess.Popen[bytes], deadline: Deadline, done: threading.Event) -> None:
    """Watch over one answer; at its deadline, kill the child, which ends the reading."""
    while not done.wait(max(deadline.next_s - time.monotonic(), 0.0)):
        if time.monotonic() >= deadline.next_s:
            deadline.passed = True
            _kill(child)
            return


def _kill(child: subprocess.Popen[bytes]) -> None:
    """End the child with what it started."""
    with contextlib.suppress(ProcessLookupError, PermissionError):  # gone; macOS says it in the other way
        os.killpg(child.pid, signal.SIGKILL)


def _read_message(pipe: IO[bytes]) -> tuple[bytes, bytearray] | None:
    """Read one message; None where the pipe ends or speaks nonsense."""
    head = _read_exactly(pipe, _HEAD.size)
    if head is None:
        return None
    kind, size = _HEAD.unpack(head)
    if size > LARGEST_MESSAGE:
        return None
    body = _read_exactly(pipe, size)
    return None if body is None else (kind, body)


def _read_exactly(pipe: IO[bytes], size: int) -> bytearray | None:
    """Read so many bytes, or None where the pipe ends before."""
    whole = bytearray(size)
    rest = memoryview(whole)
    while rest:
        got = pipe.readinto(rest)  # type: ignore[attr-defined]  # a raw pipe has it
        if not got:
            return None
        rest = rest[got:]
    return whole


def _widen(pipe: IO[bytes]) -> None:
    """Make the pipe hold more, where the system can: fewer turns between the processes."""
    if sys.platform == "linux":
        import fcntl

        with contextlib.suppress(OSError):
            fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, PIPE_BYTES)


_shared = Decoder()
atexit.register(_shared.stop)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_shared.forget)


def shared_decoder() -> Decoder:
    """Return this process's decoder; it ends with the process."""
    return _shared


def warm_up(path: Path) -> None:
    """Start the decoder while other things load, unless the name says that it will not be needed."""
    if path.suffix.lower() not in READ_WITHOUT:
        with contextlib.suppress(DecoderEnded, OSError):
            _shared.start()
