"""Try an entry, or all, for so long: ``python -m tests.fuzz [--minutes M] [--only NAME ...] [--drawn]``.

Where atheris is installed it guides by coverage; else, and where an entry asks for it, Hypothesis draws.
A find ends the run with 1, and the content that made it is written beside.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

from hypothesis import given, seed
from hypothesis import strategies as st

from tests.depth import for_ever
from tests.fuzz.entries import Entry, Tries
from tests.fuzz.others import ENTRIES

BATCH = 100
LONGEST_BYTES = 1 << 16
LONGEST_S = 25  # for one content


def variants(seeds: list[bytes]) -> st.SearchStrategy[bytes]:
    """Draw anything at all, or a seed with bytes changed, put in, cut out or doubled."""
    places = st.floats(0, 1, exclude_max=True)
    pieces = st.one_of(
        st.binary(max_size=12), st.text(max_size=12).map(lambda text: text.encode("utf-8", "replace"))
    )
    edits = st.lists(st.tuples(places, places, pieces, st.integers(0, 3)), max_size=8)
    return st.binary(max_size=400) | st.builds(changed, st.sampled_from(seeds), edits)


def changed(content: bytes, edits: list[tuple[float, float, bytes, int]]) -> bytes:
    """Edit a content: put a piece over, put it in, cut a part out, or double one."""
    for where, until, piece, what in edits:
        at, to = sorted((int(where * len(content)), int(until * len(content))))
        if what == 0:
            content = content[:at] + piece + content[at + len(piece) :]
        elif what == 1:
            content = content[:at] + piece + content[at:]
        elif what == 2:
            content = content[:at] + content[min(to, at + 64) :]
        else:
            content = content[:to] + content[at : min(to, at + 256)] + content[to:]
    return content


def drawn(tries: Tries, seeds: list[bytes], minutes: float, first: int) -> int:
    """Draw for so long; give how many contents were tried."""
    until, tried = time.monotonic() + 60 * minutes, 0
    while time.monotonic() < until:

        @seed(first + tried)
        @for_ever(BATCH)
        @given(variants(seeds))
        def law(content: bytes) -> None:
            nonlocal tried
            tried += 1
            tries(content)

        law()
    return tried


def guided(entry: Entry, minutes: float) -> int:
    """Let atheris find contents that reach new lines, in a process of its own, since it ends its process."""
    began = [sys.executable, "-m", "tests.fuzz.guided", entry.name, f"{60 * minutes:.0f}"]
    done = subprocess.run(began, capture_output=True, text=True, check=False, errors="replace")
    if done.returncode:
        sys.stdout.write(done.stdout[-3000:] + done.stderr[-6000:])
        raise AssertionError(f"{entry.name}: a find")
    found = re.search(r"number_of_executed_units: (\d+)", done.stderr)
    return int(found[1]) if found else 0


def main() -> None:
    """Try entries one after another, and say how many contents each had."""
    asks = argparse.ArgumentParser(prog="python -m tests.fuzz")
    asks.add_argument("--minutes", type=float, default=0.2)
    asks.add_argument("--only", nargs="*", default=[])
    asks.add_argument("--drawn", action="store_true", help="do not watch lines, though atheris is there")
    asks.add_argument("--first", type=int, default=int(time.time()))
    asked = asks.parse_args()
    with_atheris = find_spec("atheris") is not None and not asked.drawn
    for entry in ENTRIES:
        if asked.only and entry.name not in asked.only:
            continue
        watched = entry.guided and with_atheris
        began = time.monotonic()
        if watched:
            tried = guided(entry, asked.minutes)
        else:
            with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
                tried = drawn(*entry.makes(Path(folder)), asked.minutes, asked.first)
        how = "guided by coverage" if watched else "drawn"
        sys.stdout.write(
            f"{entry.name}: {tried:,} contents, {how}, {(time.monotonic() - began) / 60:.1f} min\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
