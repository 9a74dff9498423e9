"""Plain lists of stickings -> exercises: one a line, with or without a note value, numbered or not.

A number before a line becomes its title, and what a line leaves open is read as exercise text reads it
(eighths; small letters are notes); both are said. A line that cannot be read stops no other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from evenhand.errors import BadBook, UnreadableScore
from evenhand.music.book import BYTE_ORDER_MARK, MOST_ENTRIES, Entry, exercise_text, parse_numbered
from evenhand.music.formats.passages import Reading
from evenhand.music.text import assumed_in

_NUMBER = re.compile(r"\s*(\d{1,4})(?:[.):]\s*|\s+)(?=[^\s/+:.)])", re.ASCII)
_ABC = re.compile(r"^X:\s*\d+\s*$.*^K:", re.ASCII | re.MULTILINE | re.DOTALL)
_ASSUMED = {
    "value": "no note value: eighths were taken",
    "capitals": "small letters without capitals were taken as notes",
}


@dataclass(frozen=True, slots=True)
class ReadList:
    """What a list held, what was assumed where, and which lines could not be read."""

    entries: tuple[Entry, ...]
    assumed: tuple[str, ...]
    wrong: tuple[str, ...]


def read_list(text: str, *, name: str, most: int = MOST_ENTRIES) -> ReadList:
    """Read a list of stickings, or a book.

    Raises
    ------
    BadBook
        Where there are no lines, or more than ``most``.
    UnreadableScore
        Where it is a tune in ABC, which is not read.
    """
    if _ABC.search(text):
        raise UnreadableScore(name=name, got="a tune in ABC", do="ABC is not read; export it as MusicXML.")
    reading, wrong = Reading(name), list[BadBook]()
    lines = re.split(r"\r\n|\r|\n", text.lstrip(BYTE_ORDER_MARK))
    plain = [_without_number(line, f"line {at}", reading) for at, line in enumerate(lines, start=1)]
    book = parse_numbered("\n".join(plain), name=name, most=most, wrong=wrong)
    for number in book.lines:
        for assumed in sorted(assumed_in(exercise_text(plain[number - 1]))):
            reading.warn(_ASSUMED[assumed], f"line {number}")
    return ReadList(book.book.entries, reading.warnings, tuple(str(each) for each in wrong))


def _without_number(line: str, place: str, reading: Reading) -> str:
    """Make the number that a line begins with its title; columns stay as they are."""
    found = _NUMBER.match(line)
    if found is None:
        return line
    reading.warn("numbers before lines became titles", place)
    rest = " " * found.end() + line[found.end() :]
    return rest if "#" in rest else f"{rest}  # {found[1]}"
