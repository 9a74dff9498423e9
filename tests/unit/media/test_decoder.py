"""The decoding child: kept, replaced when it dies, ended when it stalls, never in the way."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from evenhand.errors import UnreadableRecording
from evenhand.media.decoder import Decoder, DecoderEnded, shared_decoder, warm_up
from evenhand.media.decoding import decode
from evenhand.media.write import write_flac
from tests.media_files import blows

CHILD = (
    "import os, socket, sys, time\n_, (out, *_), *_ = socket.recv_fds(socket.socket(fileno=0), 1 << 16, 2)\n"
)


@pytest.fixture
def decoder() -> Iterator[Decoder]:
    """Give a decoder of the test's own."""
    own = Decoder()
    yield own
    own.stop()


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """Give a second of FLAC."""
    write_flac(tmp_path / "take.flac", blows(), 48_000)
    return tmp_path / "take.flac"


def process_of(decoder: Decoder) -> subprocess.Popen[bytes]:
    child = decoder._child  # noqa: SLF001 - the child is not for others, but it is what is tested
    assert child is not None
    return child


def a_decoder_that(does: str, monkeypatch: pytest.MonkeyPatch, *, stall_s: float = 5.0) -> Decoder:
    """Give a decoder whose child does something else with its first request."""
    real = subprocess.Popen

    def start(_: object, **rest: object) -> subprocess.Popen[bytes]:
        return real([sys.executable, "-c", CHILD + does], **rest)  # type: ignore[call-overload, no-any-return]  # passed on

    monkeypatch.setattr("evenhand.media.decoder.subprocess.Popen", start)
    return Decoder(stall_s=stall_s)


def test_one_child_serves_take_after_take(decoder: Decoder, take: Path) -> None:
    decode(take, b"", decoder=decoder)
    first = process_of(decoder)
    decode(take, b"", decoder=decoder)
    assert process_of(decoder) is first


def test_a_child_that_died_while_idle_is_replaced(decoder: Decoder, take: Path) -> None:
    decode(take, b"", decoder=decoder)
    process_of(decoder).kill()
    process_of(decoder).wait()
    assert decode(take, b"", decoder=decoder).duration_s == 1.0


def test_a_refusal_leaves_the_child_alive(decoder: Decoder, take: Path, tmp_path: Path) -> None:
    decode(take, b"", decoder=decoder)
    first = process_of(decoder)
    (tmp_path / "nonsense").write_bytes(b"nonsense" * 100)
    with pytest.raises(UnreadableRecording):
        decode(tmp_path / "nonsense", b"nonsense", decoder=decoder)
    decode(take, b"", decoder=decoder)
    assert process_of(decoder) is first


def test_an_answer_left_in_the_middle_ends_the_child(decoder: Decoder, take: Path) -> None:
    messages = decoder.messages(take)
    next(messages)
    first = process_of(decoder)
    messages.close()
    assert first.poll() is not None
    assert decode(take, b"", decoder=decoder).duration_s == 1.0


def test_a_child_that_says_nothing_is_ended(take: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    decoder = a_decoder_that("time.sleep(60)", monkeypatch, stall_s=0.2)
    began = time.monotonic()
    with pytest.raises(UnreadableRecording, match=r"take\.flac: decoding it did not end within 0\.2 s\. "):
        decode(take, b"", decoder=decoder)
    assert time.monotonic() - began < 10.0


@pytest.mark.parametrize(
    "does",
    [
        pytest.param("sys.exit(3)", id="ends"),
        pytest.param("os.kill(os.getpid(), 9)", id="is killed"),
        pytest.param("os.write(out, b'e\\x02\\0\\0\\0{}more')", id="goes on after its last word"),
        pytest.param("os.write(out, b's\\xff\\xff\\xff\\xff')", id="promises four gigabytes"),
        pytest.param("os.write(out, b's\\x09\\0\\0\\0abc')", id="ends within a message"),
    ],
)
def test_a_child_that_breaks_is_told_in_one_line(
    take: Path, monkeypatch: pytest.MonkeyPatch, does: str
) -> None:
    with pytest.raises(UnreadableRecording, match="the decoder failed on it"):
        decode(take, b"", decoder=a_decoder_that(does, monkeypatch))


def test_warming_up_starts_the_child_unless_it_will_not_be_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[Decoder] = []

    def start(decoder: Decoder) -> None:
        started.append(decoder)

    monkeypatch.setattr(Decoder, "start", start)
    warm_up(Path("take.wav"))
    assert not started
    warm_up(Path("take.M4A"))
    assert started == [shared_decoder()]


def test_without_the_library_it_says_so(take: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenhand.media.decoder.importlib.util.find_spec", lambda _: None)
    with pytest.raises(DecoderEnded, match="not installed"):
        list(Decoder().messages(take))


@pytest.mark.skipif(sys.platform != "linux", reason="reads the limits as Linux shows them")
def test_the_child_is_limited(decoder: Decoder, take: Path) -> None:
    decode(take, b"", decoder=decoder)
    limits = Path(f"/proc/{process_of(decoder).pid}/limits").read_text("ascii")
    soft = {line[:25].strip(): line[25:].split()[0] for line in limits.splitlines()[1:]}
    assert soft["Max address space"] == str(1 << 30)
    assert soft["Max file size"] == "0"
    assert soft["Max open files"] == "32"


def test_an_interrupt_from_the_keyboard_is_the_parents_business(decoder: Decoder, take: Path) -> None:
    decode(take, b"", decoder=decoder)
    process_of(decoder).send_signal(signal.SIGINT)
    first = process_of(decoder)
    decode(take, b"", decoder=decoder)
    assert process_of(decoder) is first


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no forks here")
def test_a_fork_starts_its_own_child(tmp_path: Path, take: Path) -> None:
    """The shared decoder, since the hook at a fork is for it; in a process of its own, as forks go."""
    program = (
        "import os, sys; from pathlib import Path\n"
        "from evenhand.media.decoding import decode; from evenhand.media.decoder import shared_decoder\n"
        "pid = lambda: (decode(Path(sys.argv[1]), b''), shared_decoder()._child.pid)[1]\n"
        "before = pid(); out = Path(sys.argv[2]); forked = os.fork()\n"
        "if not forked:\n    out.write_text(str(pid())); shared_decoder().stop(); os._exit(0)\n"
        "assert os.waitpid(forked, 0)[1] == 0\n"
        "assert pid() == before, 'the parent lost its child'\n"
        "assert int(out.read_text()) != before, 'the fork used its parent child'\n"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program, str(take), str(tmp_path / "pid")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")


def test_the_child_ends_with_its_process_and_nothing_is_printed(take: Path) -> None:
    program = (
        "import sys; from pathlib import Path\n"
        "from evenhand.media.decoding import decode; from evenhand.media.decoder import shared_decoder\n"
        "decode(Path(sys.argv[1]), b''); print(shared_decoder()._child.pid)\n"
    )
    done = subprocess.run(
        [sys.executable, "-X", "dev", "-W", "error", "-c", program, str(take)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stderr == ""
    with pytest.raises(ProcessLookupError):
        os.kill(int(done.stdout), 0)
