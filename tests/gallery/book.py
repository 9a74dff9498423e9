"""The hard exercises, and what was drawn of them: ``python -m tests.gallery.book`` keeps it anew."""

from __future__ import annotations

from collections import Counter
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from evenhand.music.book import Entry, parse_book
from evenhand.music.engraving.engraved import EngravedExercise
from tests.gallery.drawings import Drawing, drawn

HERE = Path(__file__).parent
SNAPSHOTS = HERE / "snapshots.txt"
PAGE: dict[str, Any] = {"width": 1400.0, "spacing": "note", "rolls": "typed"}


@cache
def hard_exercises() -> tuple[Entry, ...]:
    """Read the book."""
    return parse_book((HERE / "hard.txt").read_text("utf-8"), name="hard.txt").entries


@cache
def page_of(entry: Entry) -> tuple[EngravedExercise, list[Drawing]]:
    """Draw an exercise as on a printed page."""
    return drawn(entry.exercise, **PAGE)


def snapshot(entry: Entry) -> str:
    """Return a drawing in short: its digest, each line's size, and how many signs of each kind there are."""
    engraved, drawings = page_of(entry)
    digest = sha256("".join(line.svg for line in engraved.lines).encode()).hexdigest()[:12]
    sizes = " ".join(f"{line.end_x:.0f}x{line.height:.0f}" for line in engraved.lines)
    kinds = Counter(shape.kind for drawing in drawings for shape in drawing.shapes)
    return f"{entry.title}: {digest} {sizes}; {', '.join(f'{kind} {kinds[kind]}' for kind in sorted(kinds))}"


if __name__ == "__main__":
    SNAPSHOTS.write_text("".join(f"{snapshot(entry)}\n" for entry in hard_exercises()), "utf-8")
