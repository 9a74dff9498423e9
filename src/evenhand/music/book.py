"""A book: the exercises that a teacher keeps, each with its title, in sections.

A book of exercises as text: one exercise a line, read and printed.

Conventions: lines count from 1, columns count characters of the line from 1. A
title stands after ``#`` at the end of an exercise's line; a line that begins with
``#`` opens a section, and ``#`` alone closes it; the first of two headings at the
top of the text is the book's title. A line that begins with ``#:`` is a paragraph of
the opening text of the section, or above the first section of the book. An empty line
means nothing. A title may end in a mark in brackets, such as ``[use]`` or
``[never: tap, endurance]``: what a teacher wants of the exercise where weeks are planned.
The form, for people, is in ``docs/book.md``. Time is linear in the length of the text.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from evenhand.errors import BadBook, BadExercise
from evenhand.music.exercise import Exercise
from evenhand.music.text import parse_exercise, print_exercise

Use = Literal["use", "also", "never"]
USES: tuple[Use, ...] = get_args(Use)


@dataclass(frozen=True, slots=True)
class UseMark:
    """What a teacher wants of an exercise: use it first, use it also, or never; at some stages, or at all."""

    use: Use
    stages: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Entry:
    """One exercise of a book. ``title`` and ``section`` may be empty; ``mark`` may be left out."""

    exercise: Exercise
    title: str = ""
    section: str = ""
    mark: UseMark | None = None

    def use_at(self, stage: str) -> Use:
        """Say what is wanted of the exercise at a stage; also, where nothing is said of it.

        >>> Entry(Exercise(()), mark=UseMark("never", ("tap",))).use_at("Tap")
        'never'
        """
        if self.mark is None:
            return "also"
        stages = [each.casefold() for each in self.mark.stages]
        return self.mark.use if not stages or stage.casefold() in stages else "also"


@dataclass(frozen=True, slots=True)
class Book:
    """Exercises in the order they stand; ``openings`` are sections with their text, "" the book itself."""

    entries: tuple[Entry, ...]
    title: str = ""
    openings: tuple[tuple[str, str], ...] = ()  # paragraphs are lines

    def opening(self, section: str) -> str:
        """Return the text that opens a section, or with "" the book; "" where there is none."""
        return dict(self.openings).get(section, "")


EXAMPLE = "one exercise a line, such as 1/8: RLRR LRLL  # its title"
_MARK = re.compile(
    r"(?P<title>.*?)\[\s*(?P<use>use|also|never)\s*(?::(?P<stages>[^\[\]]*))?\]", re.IGNORECASE
)
OPENING = "#:"
BYTE_ORDER_MARK = "\ufeff"
MOST_ENTRIES = 20_000


@dataclass(frozen=True, slots=True)
class NumberedBook:
    """A book that still knows where each entry stood: ``lines[i]`` is the line of ``book.entries[i]``."""

    book: Book
    lines: tuple[int, ...]


def parse_book(text: str, *, name: str = "book", most: int = MOST_ENTRIES) -> Book:
    r"""Read a book from its text.

    Parameters
    ----------
    text : str
        The lines, with any of the usual line ends; a byte order mark is passed over.
    name : str
        What messages call the text: its file's name.
    most : int
        How many exercises it may have; the first beyond ends the reading.

    Raises
    ------
    BadBook
        With the line and column (from 1) of the first thing that cannot be read, and what would be right.

    >>> book = parse_book("# Paradiddles\n1/16: RLRR LRLL  # Single")
    >>> [(entry.section, entry.title) for entry in book.entries]
    [('Paradiddles', 'Single')]
    """
    return parse_numbered(text, name=name, most=most).book


def parse_numbered(
    text: str, *, name: str = "book", most: int = MOST_ENTRIES, wrong: list[BadBook] | None = None
) -> NumberedBook:
    """Read a book as ``parse_book`` does, and keep each entry's line.

    ``wrong`` is given to go on where a line cannot be read: what is the matter with it is put there.
    """
    entries: list[Entry] = []
    numbers: list[int] = []
    headings: list[str] = []  # those above the first exercise
    openings: dict[str | None, list[str]] = {}  # None: under the first heading of all
    section = ""
    for number, line in _lines(text):
        if line.lstrip().startswith(OPENING):
            said = _title(line, line.index("#"), where=f"{name}, line {number}").removeprefix(":").strip()
            under = None if len(headings) == 1 and not entries else section
            openings.setdefault(under, []).append(said)
        elif line.lstrip().startswith("#"):
            section = _title(line, line.index("#"), where=f"{name}, line {number}")
            if not entries:
                headings.append(section)
        else:
            if len(entries) == most:
                got, must_be = f"more than {most:,} exercises", "several books, each with fewer"
                raise BadBook(where=f"{name}, line {number}", got=got, must_be=must_be)
            try:
                entries.append(_entry(line, section, where=f"{name}, line {number}"))
            except BadBook as error:
                if wrong is None:
                    raise
                wrong.append(error)
                continue
            numbers.append(number)
    if not entries and not wrong:
        raise BadBook(where=name, got="no exercises", must_be=EXAMPLE)
    title = headings[0] if len(headings) > 1 else ""
    return NumberedBook(Book(tuple(entries), title, _kept(openings, entries, headings)), tuple(numbers))


def _kept(
    openings: dict[str | None, list[str]], entries: Sequence[Entry], headings: Sequence[str]
) -> tuple[tuple[str, str], ...]:
    """Return the opening texts of the book and of sections that have exercises, as they stand."""
    first = openings.pop(None, [])
    if first:
        of = headings[0] if len(headings) == 1 else ""
        openings[of] = openings.get(of, []) + first
    said = {section: "\n".join(filter(None, lines)) for section, lines in openings.items()}
    sections = dict.fromkeys(["", *(entry.section for entry in entries)])
    return tuple((section, said[section]) for section in sections if said.get(section))


def print_book(book: Book) -> str:
    r"""Write a book as text, the same book always the same way.

    Titles are written on one line with single spaces.

    >>> print_book(Book((Entry(parse_exercise("1/8:RLRRLRLL"), "Single", "Paradiddles"),)))
    '# Paradiddles\n1/8: RLRR LRLL  # Single\n'
    """
    lines = [_heading(book.title)] if _one_line(book.title) else []
    section = None if lines else ""
    openings = {_one_line(named): text for named, text in book.openings}
    lines += _opening(openings.pop("", ""))
    for entry in book.entries:
        if _one_line(entry.section) != section:
            section = _one_line(entry.section)
            lines += ["", _heading(section)] if lines else [_heading(section)]
            lines += _opening(openings.pop(section, ""))
        lines.append(_print_entry(entry))
    return "".join(f"{line}\n" for line in lines)


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Give each line that says something, with its number."""
    plain = text.removeprefix(BYTE_ORDER_MARK).replace("\r\n", "\n").replace("\r", "\n")
    for number, line in enumerate(plain.split("\n"), start=1):
        if line.strip():
            yield number, line


def _entry(line: str, section: str, *, where: str) -> Entry:
    """Read one exercise and its title."""
    text, sign, _ = line.partition("#")
    try:
        exercise = parse_exercise(exercise_text(line))
    except BadExercise as error:
        at = f"{where}, column {error.column}"
        raise BadBook(where=at, got=error.found, must_be=error.must_be) from error
    title, mark = split_mark(_title(line, len(text), where=where) if sign else "")
    return Entry(exercise, title, section, mark)


def exercise_text(line: str) -> str:
    """Return what stands before a line's title; a tab is as good as a space there."""
    return line.partition("#")[0].rstrip().replace("\t", " ")


def split_mark(text: str) -> tuple[str, UseMark | None]:
    """Take the mark off the end of a title; brackets that hold something else are left.

    >>> split_mark("My turn [never: tap, slow doubles]")
    ('My turn', UseMark(use='never', stages=('tap', 'slow doubles')))
    >>> split_mark("Singles [again]")
    ('Singles [again]', None)
    """
    found = _MARK.fullmatch(text)
    if found is None:
        return text, None
    use = next(each for each in USES if each == found["use"].casefold())
    stages = tuple(_one_line(each) for each in (found["stages"] or "").split(",") if each.strip())
    return found["title"].rstrip(), UseMark(use, stages)


def mark_text(mark: UseMark) -> str:
    """Write a mark.

    >>> mark_text(UseMark("use")), mark_text(UseMark("never", ("tap", "full")))
    ('[use]', '[never: tap, full]')
    """
    return f"[{mark.use}: {', '.join(mark.stages)}]" if mark.stages else f"[{mark.use}]"


def _title(line: str, start: int, *, where: str) -> str:
    """Read what stands after the ``#`` at ``start``, or after several."""
    for column, char in enumerate(line[start:], start=start + 1):
        if unicodedata.category(char) in {"Cc", "Cs"} and char != "\t":
            at = f"{where}, column {column}"
            raise BadBook(where=at, got=f"the character U+{ord(char):04X}", must_be="a title in plain text")
    return _one_line(line[start:].lstrip("#"))


def _print_entry(entry: Entry) -> str:
    mark = "" if entry.mark is None else mark_text(entry.mark)
    title = _one_line(f"{entry.title} {mark}")
    return print_exercise(entry.exercise) + (f"  # {title}" if title else "")


def _heading(text: str) -> str:
    return f"# {_one_line(text)}".rstrip()


def _opening(text: str) -> list[str]:
    return [f"{OPENING} {_one_line(line)}" for line in text.splitlines() if line.strip()]


def _one_line(text: str) -> str:
    """Write a title on one line, with single spaces."""
    return " ".join(text.split())
