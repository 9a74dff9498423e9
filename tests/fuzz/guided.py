"""Try one entry by atheris: ``python -m tests.fuzz.guided NAME SECONDS``. It ends its process."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

LONGEST_S = 25  # for one content
WATCHED = [
    "evenhand.music",
    "evenhand.acts",
    "evenhand.media",
    "evenhand.studio",
    "evenhand.progress",
    "tomllib",
    "mido",
]


def main() -> None:
    """Load the entry with its lines watched, and begin."""
    name, seconds = sys.argv[1:]
    with atheris.instrument_imports(include=WATCHED):
        from tests.fuzz.entries import PARSED

        folder = Path(tempfile.mkdtemp())
        tries, seeds = next(entry for entry in PARSED if entry.name == name).makes(folder)
        for content in seeds:
            tries(content)
    corpus, finds = folder / "corpus", Path.cwd() / "fuzz-out"
    corpus.mkdir()
    finds.mkdir(exist_ok=True)
    for number, content in enumerate(seeds):
        (corpus / str(number)).write_bytes(content)
    options = [
        f"-max_total_time={seconds}", f"-timeout={LONGEST_S}", "-print_final_stats=1", "-rss_limit_mb=2048",
        f"-max_len={max(4096, 2 * max(map(len, seeds)))}", f"-artifact_prefix={finds}/{name[:4]}-",
    ]  # fmt: skip
    atheris.Setup([sys.argv[0], *options, str(corpus)], tries)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
