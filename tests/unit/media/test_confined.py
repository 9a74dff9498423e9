"""What a recording could make the decoder do is tried by a child that does it: each thing is refused.

The child is the real one, with the real start; only what it answers a recording with is replaced.
"""

from __future__ import annotations

import errno
import json
import platform
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from evenhand.cli.studio.safekeeping import decoder_words
from evenhand.media import confined, decoder
from evenhand.media.decoder import Decoder
from evenhand.media.decoding import decode
from evenhand.media.write import write_flac
from tests.architecture.house import ROOT
from tests.media_files import blows

linux = pytest.mark.skipif(sys.platform != "linux", reason="no filter of system calls here")

CHILD = Path(decoder.__file__).with_name("decoding_child.py")
WITHOUT_LIBRARY = """
import ctypes
def nothing(name, *rest, **more):
    raise OSError(name)
ctypes.CDLL = nothing
program = {{"__name__": "__main__", "__file__": {real!r}}}
exec(compile(open({real!r}).read(), {real!r}, "exec"), program)
"""
ATTACKER = """
import ctypes, json, mmap, os, resource, signal, socket, struct, subprocess, sys, threading, time
program = {{"__name__": "decoding_child", "__file__": {real!r}}}
exec(compile(open({real!r}).read(), {real!r}, "exec"), program)
libc = ctypes.CDLL(None, use_errno=True)
inner, outer = socket.socketpair()
memory = mmap.mmap(-1, 4096)

def by_number(*call):
    if libc.syscall(*call) == -1:
        raise OSError(ctypes.get_errno(), "")

def fork():
    if not os.fork():
        os._exit(0)

def in_a_thread():
    done = []
    one = threading.Thread(target=done.append, args=(1,)); one.start(); one.join()
    return done[0]

def bounded():
    program["set_cpu_limit"](900)
    assert 900 <= resource.getrlimit(resource.RLIMIT_CPU)[0] < 910

attempts = {attempts}
left = []

def attack(request, numbers):
    found = {{}}
    for name, attempt in attempts.items():
        try:
            attempt(numbers[-1])
            found[name] = "done"
        except OSError as error:
            found[name] = error.errno
        except BaseException as error:
            found[name] = type(error).__name__
    said = json.dumps(found).encode()
    os.write(numbers[0], struct.pack("<cI", b"e", len(said)) + said)
    {after}

program["answer"] = attack
{door}
program["main"]()
"""

REFUSED = {
    "a socket": "lambda _: socket.socket()",
    "a socket of this machine": "lambda _: socket.socket(socket.AF_UNIX)",
    "a pair of sockets": "lambda _: socket.socketpair()",
    "a connection by a socket that was there": "lambda _: inner.connect('/run/anything')",
    "a message with a file in it": "lambda n: socket.send_fds(outer, [b'x'], [n])",
    "the machine's accounts": "lambda _: open('/etc/passwd')",
    "another student's recording": "lambda _: open({other!r}, 'rb')",
    "whether there is a file": "lambda _: os.stat({other!r})",
    "what lies in a folder": "lambda _: os.listdir({folder!r})",
    "its own memory as a file": "lambda _: open('/proc/self/mem', 'r+b')",
    "a file written": "lambda _: open({new!r}, 'wb')",
    "a file removed": "lambda _: os.unlink({other!r})",
    "a file renamed": "lambda _: os.rename({other!r}, {new!r})",
    "the recording cut": "lambda n: os.ftruncate(n, 0)",
    "a program": "lambda _: subprocess.run(['/bin/true'])",
    "another program in its place": "lambda _: os.execv('/bin/true', ['true'])",
    "a process": "lambda _: fork()",
    "its parent ended": "lambda _: os.kill(os.getppid(), signal.SIGKILL)",
    "memory that runs": "lambda _: mmap.mmap(-1, 4096, prot=mmap.PROT_READ | mmap.PROT_EXEC)",
}
if platform.machine() == "x86_64":  # by the numbers of its calls (the kernel's syscall_64.tbl)
    REFUSED |= {
        "a file made": "lambda _: by_number(257, -100, {new!r}.encode(), 0o101, 0o600)",  # openat
        "a file made by a newer call": "lambda _: by_number(437, -100, {new!r}.encode(), 0, 24)",  # openat2
        "a process by an old call": "lambda _: by_number(57)",  # fork
        "its parent's memory read (process_vm_readv)": "lambda _: by_number(310, os.getppid(), 0)",
        "its parent traced": "lambda _: by_number(101, 16, os.getppid(), 0, 0)",  # ptrace, attach
        "more memory (prlimit64)": "lambda _: by_number(302, 0, 9, (ctypes.c_long * 2)(-1, -1), 0)",
        "another filter": "lambda _: by_number(317, 1, 0, 0)",  # seccomp
        "a namespace of its own": "lambda _: by_number(272, 0x10000000)",  # unshare, CLONE_NEWUSER
        "requests by a ring": "lambda _: by_number(425, 8, 0)",  # io_uring_setup
    }
LET = {
    "reading what was handed over": "lambda n: os.read(n, 4)",
    "memory": "lambda _: bytearray(1 << 24)",
    "a thread": "lambda _: in_a_thread()",
    "computing, within bounds": "lambda _: bounded()",
}
HARMLESS = ("a socket", "the machine's accounts", "another student's recording", "a program", "a process")
DOOR_OPEN = "program['closing'] = lambda: (lambda: lambda: False, list)"


@dataclass(frozen=True)
class Attack:
    """A recording, and a decoder whose child attacks once it has it."""

    folder: Path
    decoder: Decoder

    def found(
        self, attempts: dict[str, str], monkeypatch: pytest.MonkeyPatch, *, door: str = "", after: str = ""
    ) -> dict[str, object]:
        """Let the child attempt these; tell of each: done, the error's number, or its name."""
        self.prepare(attempts, monkeypatch, door, after)
        return self.found_once()

    def prepare(
        self, attempts: dict[str, str], monkeypatch: pytest.MonkeyPatch, door: str, after: str
    ) -> None:
        """Write the child that attempts these, and what it does after its answer."""
        take, other = self.folder / "take.flac", self.folder / "another student.flac"
        write_flac(take, blows(), 48_000)
        write_flac(other, blows(), 48_000)
        places = {"other": str(other), "folder": str(self.folder), "new": str(self.folder / "new")}
        lines = [f"{name!r}: {does.format(**places)}" for name, does in attempts.items()]
        program = self.folder / "attacker.py"
        listed = "{" + ",\n".join(lines) + "}"
        text = ATTACKER.format(real=str(CHILD), attempts=listed, door=door, after=after or "pass")
        program.write_text(text, "utf-8")
        monkeypatch.setattr(decoder, "_CHILD", program)

    def found_once(self) -> dict[str, object]:
        """Give the child a recording."""
        take, other = self.folder / "take.flac", self.folder / "another student.flac"
        (_, body), *_ = list(self.decoder.messages(take))
        assert take.read_bytes() == other.read_bytes()
        assert not (self.folder / "new").exists()
        return dict(json.loads(body))


@pytest.fixture
def attack(tmp_path: Path) -> Iterator[Attack]:
    """Give an attack, and end it."""
    own = Decoder()
    yield Attack(tmp_path, own)
    own.stop()


@linux
def test_a_decoder_that_was_taken_over_is_refused_everything(
    attack: Attack, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = attack.found(REFUSED | LET, monkeypatch)
    assert found == dict.fromkeys(REFUSED, errno.EPERM) | dict.fromkeys(LET, "done")


@linux
def test_without_the_filter_the_attempts_succeed(attack: Attack, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the test above could hold because the attempts are wrong."""
    some = {name: REFUSED[name] for name in HARMLESS}
    assert attack.found(some, monkeypatch, door=DOOR_OPEN) == dict.fromkeys(some, "done")


@linux
def test_nothing_is_left_for_the_next_recording(attack: Attack, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one does to the process that decodes it, the next one does not meet: not even its memory."""
    attack.prepare(
        {"what is left": "lambda _: left.append(1) or len(left) == 1 or 1 / 0"}, monkeypatch, "", ""
    )
    assert [attack.found_once()["what is left"] for _ in range(3)] == ["done"] * 3


@linux
def test_who_stays_after_its_answer_is_ended_and_the_next_recording_is_heard(
    attack: Attack, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(decoder, "GOES_S", 0.2)
    attack.prepare({}, monkeypatch, "", "time.sleep(60)")
    assert attack.found_once() == {}
    monkeypatch.undo()
    assert decode(attack.folder / "take.flac", b"", decoder=attack.decoder).duration_s == 1.0


def test_the_child_has_nothing_of_our_environment(attack: Attack, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "a secret")
    known = "lambda _: os.environ['AWS_SECRET_ACCESS_KEY']"
    assert attack.found({"a key": known}, monkeypatch) == {"a key": "KeyError"}


def test_the_page_counts_right() -> None:
    said = (ROOT / "docs/security.md").read_text("utf-8")
    assert f"names the {len(confined.DECODING) + len(confined.HELD)} calls that decoding needs" in said
    if platform.machine() == "x86_64":
        assert f"try {len(REFUSED)} things, each refused" in said


@linux
def test_the_real_child_says_what_it_could_do_after_trying(attack: Attack) -> None:
    assert attack.decoder.could() == []


def test_without_the_library_it_works_and_does_not_claim(
    attack: Attack, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The child is kept from finding libseccomp; it decodes all the same, and a check says so."""
    program = attack.folder / "child.py"
    program.write_text(WITHOUT_LIBRARY.format(real=str(CHILD)), "utf-8")
    monkeypatch.setattr(decoder, "_CHILD", program)
    monkeypatch.setattr(decoder, "_shared", attack.decoder)
    write_flac(attack.folder / "take.flac", blows(), 48_000)
    assert decode(attack.folder / "take.flac", b"").duration_s == 1.0
    assert attack.decoder.could() == ["files", "network", "programs"]
    said = decoder_words()
    assert "not closed off: it could reach files, network and programs" in said
