"""Films made for the benchmark and kept, and the command run on them, with what it takes.

Conventions: processor seconds and memory are of the command and of the processes it waited for.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from benchmarks.filming import FilmCase, StrokeTruth, film

SLOWEST_S = 300


@dataclass(frozen=True)
class Filmed:
    """A film on the disk, with what is needed of its truth."""

    path: Path
    strokes: tuple[StrokeTruth, ...]
    frames: int


@dataclass(frozen=True)
class Ran:
    """What a command wrote, and what it took."""

    code: int
    out: str
    err: str
    cpu_s: float
    memory_mb: float

    def document(self) -> Mapping[str, Any] | None:
        """Return the JSON that was written, None where there is none."""
        try:
            return dict(json.loads(self.out))
        except json.JSONDecodeError:
            return None

    def refusal(self, path: Path) -> str:
        """Return the last line of what was said of a film instead of an answer."""
        lines = self.err.strip().splitlines() or [f"ended with {self.code}"]
        return lines[-1].removeprefix("evenhand: ").removeprefix(f"{path.name}: ")[:160]


def filmed(case: FilmCase, folder: Path) -> Filmed:
    """Make a film, or take the one that was made of this case by this code before."""
    name = _name(case)
    path, told = folder / f"{name}.mp4", folder / f"{name}.json"
    if not told.exists():
        truth = film(case, path)
        strokes = [asdict(stroke) for stroke in truth.strokes]
        told.write_text(json.dumps({"strokes": strokes, "frames": len(truth.frames_s)}), "utf-8")
    facts = json.loads(told.read_text("utf-8"))
    return Filmed(path, tuple(StrokeTruth(**stroke) for stroke in facts["strokes"]), facts["frames"])


def _name(case: FilmCase) -> str:
    """Return a name for a case as this code films it."""
    files = sorted((Path(__file__).parent / "filming").glob("*.py"))
    code = b"".join(path.read_bytes() for path in files if path.stem not in {"shots", "__init__"})
    return hashlib.sha256(repr(case).encode() + code).hexdigest()[:20]


def run(arguments: Sequence[str]) -> Ran:
    """Run the command to its end, or to the time it has."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        command = [sys.executable, "-m", "evenhand", *arguments]
        process = subprocess.Popen(command, stdout=out, stderr=err)  # noqa: S603 - this project's own command
        until = time.monotonic() + SLOWEST_S
        while (ended := os.wait4(process.pid, os.WNOHANG))[0] == 0:
            if time.monotonic() > until:
                process.kill()
            time.sleep(0.02)
        process.returncode = os.waitstatus_to_exitcode(ended[1])
        texts = []
        for file in (out, err):
            file.seek(0)
            texts.append(file.read().decode("utf-8", "replace"))
    used = ended[2]
    return Ran(process.returncode, texts[0], texts[1], used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def watch(case: FilmCase, path: Path) -> Ran:
    """Let the command watch a film, with all that its player would tell it."""
    tape = ",".join(f"{hand}={colour}" for hand, colour in case.tapes.items()) or "auto"
    asked = ["--exercise", case.written or case.exercise, "--tempo", case.tempo, "--tape", tape]
    return run(["watch", str(path), *asked, "--pad-cm", f"{case.pad_cm:g}", "--json", "-"])
