"""Read the teacher's books: files, and folders of files, of one exercise a line.

The exercises that are there before a teacher has a book: stickings in eighths, common practice.

The order is our own: those that the right hand begins, then those that the left hand begins; in each from
easy to hard by ``music.writing.difficulty``. Of exercises that ask as much, the one whose first double comes
later stands first, and then R before L. A test holds the text to it.

Tidy a shelf of books: find the same exercises, drop them, sort; and give it as JSON.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal

from evenhand.acts.documents import json_of, read_text_file
from evenhand.errors import BadBook
from evenhand.music.book import Book, Entry, parse_book, parse_numbered
from evenhand.music.equivalence import Equivalence, same_groups, turn_between
from evenhand.music.text import print_exercise

SUFFIX = ".txt"
LARGEST_BYTES = 64 * 2**20
_MUST_BE = "a text file (UTF-8) with one exercise a line, or a folder of such files named *.txt"


@dataclass(frozen=True, slots=True)
class Placed:
    """An entry and where it stands: in which file, on which line (from 1)."""

    entry: Entry
    file: Path
    line: int

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}"


@dataclass(frozen=True, slots=True)
class Shelf:
    """What several files hold together, in their order. ``title`` is the only one that was written."""

    placed: tuple[Placed, ...]
    title: str = ""
    openings: tuple[tuple[str, str], ...] = ()

    @property
    def book(self) -> Book:
        """All of it as one book."""
        return Book(tuple(each.entry for each in self.placed), self.title, self.openings)


def read_books(paths: Sequence[Path]) -> Book:
    """Read files, and folders of ``*.txt``, into one book, in the order given; a folder by its files' names.

    Raises
    ------
    BadBook
        Naming the file, and the line where there is one, of the first thing that cannot be read.
    """
    return read_shelf(paths).book


def read_shelf(paths: Sequence[Path]) -> Shelf:
    """Read books as ``read_books`` does, and keep where each entry stands.

    A file named twice is read once.
    """
    placed: list[Placed] = []
    titles: list[str] = []
    openings: dict[str, str] = {}
    for file in _once(file for path in paths for file in _files(path)):
        text = read_text_file(file, error=BadBook, largest_bytes=LARGEST_BYTES, must_be=_MUST_BE)
        numbered = parse_numbered(text, name=str(file))
        lines = zip(numbered.book.entries, numbered.lines, strict=True)
        placed += [Placed(entry, file, line) for entry, line in lines]
        titles += [numbered.book.title] if numbered.book.title else []
        for section, said in numbered.book.openings:
            openings[section] = f"{openings[section]}\n{said}" if section in openings else said
    title = titles[0] if len(set(titles)) == 1 else ""
    return Shelf(tuple(placed), title, tuple(openings.items()))


def _files(path: Path) -> list[Path]:
    """List the book files that a path stands for."""
    if not path.is_dir():
        return [path]
    try:
        inside = [each for each in path.iterdir() if _is_book(each)]
    except OSError as error:
        raise BadBook(where=str(path), got=error.strerror or str(error), must_be=_MUST_BE) from error
    if not inside:
        raise BadBook(where=str(path), got="a folder with no *.txt in it", must_be=_MUST_BE)
    return sorted(inside, key=_by_name)


def _is_book(path: Path) -> bool:
    return path.suffix.lower() == SUFFIX and not path.name.startswith(".") and path.is_file()


def _by_name(path: Path) -> tuple[list[tuple[int, str]], str]:
    return natural(path.name), path.name


def natural(name: str) -> list[tuple[int, str]]:
    """Order names as people do.

    >>> sorted(["week 10", "Week 2", "week 1"], key=natural)
    ['week 1', 'Week 2', 'week 10']
    """
    parts = re.findall(r"[0-9]+|[^0-9]+", name.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]


def _once(files: Iterator[Path]) -> Iterator[Path]:
    seen: set[Path] = set()
    for file in files:
        whole = _whole(file)
        if whole not in seen:
            seen.add(whole)
            yield file


def _whole(file: Path) -> Path:
    """Follow links and dots; a path that leads nowhere stays, and is refused when it is opened."""
    try:
        return file.resolve()
    except (OSError, RuntimeError, ValueError):
        return file


_TEXT = """
# Right hand first
1/8: RLRL RLRL  # Singles in eighths
1/8: RLLR RLLR  # Inward doubles
1/8: RRLL RRLL  # Doubles in eighths
1/8: RLRR LRRL  # More for the right hand
1/8: RLRL LRLR  # Single paradiddle from its 4th note
1/8: RLRR LRLL  # Single paradiddle
1/8: RLLR LRRL  # Single paradiddle from its 2nd note
1/8: RRLR LLRL  # Single paradiddle from its 3rd note
1/8: RLRL RRLL  # Four singles, two doubles
1/8: RRLL RLRL  # Two doubles, four singles
1/8: RRRR LLLL  # Four each hand
1/8: RRRL LLLR  # Four each hand from the 2nd note

# Left hand first
1/8: LRLR LRLR  # Singles in eighths, left first
1/8: LRRL LRRL  # Inward doubles, left first
1/8: LLRR LLRR  # Doubles in eighths, left first
1/8: LLRR LRLR  # Two doubles, four singles, left first
1/8: LRLL RLLR  # More for the left hand
"""


@cache
def stock() -> Book:
    """Return the book that is there from the beginning."""
    return parse_book(_TEXT, name="the stock")


UpTo = Literal["none", "rotation", "swap", "rotation-swap"]
SortedBy = Literal["section", "title", "notes"]

_ORDERS: Mapping[SortedBy, Callable[[Placed], Any]] = {
    "section": lambda _placed: 0,
    "title": lambda placed: natural(placed.entry.title),
    "notes": lambda placed: len(placed.entry.exercise.struck),
}


@dataclass(frozen=True, slots=True)
class Same:
    """An exercise, and the later ones that are the same, each with how it is got from the first."""

    first: Placed
    others: tuple[tuple[Placed, Equivalence], ...]


@dataclass(frozen=True, slots=True)
class TidyBook:
    """What is kept of how many files, which were the same, and how many of those were dropped."""

    shelf: Shelf
    same: tuple[Same, ...]
    files: int
    dropped: int = 0


def tidy(
    shelf: Shelf,
    *,
    up_to: UpTo = "rotation-swap",
    without_same: bool = False,
    sorted_by: SortedBy | None = None,
) -> TidyBook:
    """Find the exercises that are the same; drop all but the first of each, and sort, where wanted."""
    same = same_on(shelf, up_to)
    kept = shelf.placed
    if without_same:
        gone = {id(other) for group in same for other, _ in group.others}
        kept = tuple(placed for placed in kept if id(placed) not in gone)
    if sorted_by is not None:
        kept = _sorted(kept, sorted_by)
    files = len({placed.file for placed in shelf.placed})
    return TidyBook(replace(shelf, placed=kept), same, files, len(shelf.placed) - len(kept))


def same_on(shelf: Shelf, up_to: UpTo) -> tuple[Same, ...]:
    """Group the exercises that are the same, the groups and their members in the shelf's order."""
    rotation, swap = "rotation" in up_to, "swap" in up_to
    groups = same_groups([placed.entry for placed in shelf.placed], rotation=rotation, swap=swap)
    return tuple(
        _same([shelf.placed[index] for index in group], rotation=rotation, swap=swap) for group in groups
    )


def _same(placed: Sequence[Placed], *, rotation: bool, swap: bool) -> Same:
    first, *others = placed
    turns = [
        turn_between(first.entry.exercise, other.entry.exercise, rotation=rotation, swap=swap)
        for other in others
    ]
    found = [(other, turn) for other, turn in zip(others, turns, strict=True) if turn is not None]
    return Same(first, tuple(found))


def _sorted(placed: Sequence[Placed], sorted_by: SortedBy) -> tuple[Placed, ...]:
    """Gather each section where it first stands, and sort inside it; ties stay as they stood."""
    sections: dict[str, list[Placed]] = {}
    for each in placed:
        sections.setdefault(each.entry.section, []).append(each)
    order = _ORDERS[sorted_by]
    return tuple(each for section in sections.values() for each in sorted(section, key=order))


def book_json(tidied: TidyBook) -> str:
    """Give a tidy book as JSON; ``docs/book.md`` has the shape."""
    written = {
        "title": tidied.shelf.title,
        "count": len(tidied.shelf.placed),
        "dropped": tidied.dropped,
        "exercises": [_placed_json(placed) for placed in tidied.shelf.placed],
        "same": [_same_json(same) for same in tidied.same],
    }
    return json_of(written)


def _placed_json(placed: Placed) -> dict[str, Any]:
    entry = placed.entry
    return {
        "exercise": print_exercise(entry.exercise),
        "title": entry.title,
        "section": entry.section,
        "file": str(placed.file),
        "line": placed.line,
    }


def _same_json(same: Same) -> dict[str, Any]:
    others = [
        {**_placed_json(other), "notes_later": turn.notes_later, "hands_swapped": turn.hands_swapped}
        for other, turn in same.others
    ]
    return {**_placed_json(same.first), "others": others}
