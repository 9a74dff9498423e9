"""Read the teacher's books: files, and folders of files, of one exercise a line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from evenhand.craft.book_text import EXAMPLE, parse_numbered
from evenhand.domain.book import Book, Entry
from evenhand.errors import BadBook

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

    @property
    def book(self) -> Book:
        """All of it as one book."""
        return Book(tuple(each.entry for each in self.placed), self.title)


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
    for file in _once(file for path in paths for file in _files(path)):
        numbered = parse_numbered(_text(file), name=str(file))
        lines = zip(numbered.book.entries, numbered.lines, strict=True)
        placed += [Placed(entry, file, line) for entry, line in lines]
        titles += [numbered.book.title] if numbered.book.title else []
    return Shelf(tuple(placed), titles[0] if len(set(titles)) == 1 else "")


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


def _text(file: Path) -> str:
    """Read a file as UTF-8 text."""
    try:
        with file.open("rb") as opened:
            data = opened.read(LARGEST_BYTES + 1)
    except FileNotFoundError as error:
        raise BadBook(where=str(file), got="no such file", must_be=_MUST_BE) from error
    except (OSError, ValueError) as error:
        got = getattr(error, "strerror", None) or str(error)
        raise BadBook(where=str(file), got=got, must_be=_MUST_BE) from error
    if len(data) > LARGEST_BYTES:
        got = f"more than {LARGEST_BYTES // 2**20} MB"
        raise BadBook(where=str(file), got=got, must_be=EXAMPLE)
    return _decoded(data, file)


def _decoded(data: bytes, file: Path) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadBook(where=str(file), got="UTF-16 text", must_be="saved as UTF-8 text")
    if b"\0" in data:
        raise BadBook(where=str(file), got="bytes that are not text", must_be=_MUST_BE)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        where = f"{file}, line {line}"
        raise BadBook(where=where, got="a letter that is not UTF-8", must_be="saved as UTF-8 text") from error
