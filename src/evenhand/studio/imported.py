"""Music from elsewhere on its way into the book: what was understood of a file, and what was not.

Conventions: what a file is, is told from its first bytes. Text is read line by line, and a line that cannot
be read stops no other; of a score what was left out or changed is said, with its bar where that is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

from evenhand.acts.exercises.convert import ImportOptions, import_scores
from evenhand.acts.exercises.opened import is_score
from evenhand.errors import WrongOptions
from evenhand.music.book import Book, Entry, mark_text, parse_book, print_book
from evenhand.music.formats.lists import read_list
from evenhand.music.text import print_exercise
from evenhand.studio.values import BookEntry

ImportedForm = Literal["text", "score"]
LONGEST_BOOK = 900_000  # characters that are sent back to be kept; a form has a bound of its own
MOST_TOLD = 50


@dataclass(frozen=True, slots=True)
class Understood:
    """What was understood: exercises as a book's text, and what was not, each with its place."""

    name: str
    form: ImportedForm
    entries: tuple[Entry, ...]
    not_understood: tuple[str, ...]
    more: int = 0  # of what was not understood, beyond what is told
    assumed: tuple[str, ...] = ()  # of text: what it left open and was taken to mean

    @property
    def text(self) -> str:
        """The exercises as a book's text, in the order in which they are counted."""
        return print_book(Book(self.entries)) if self.entries else ""


def understood(content: bytes, name: str, options: ImportOptions, *, most: int) -> Understood:
    """Read a file of text, MusicXML or MIDI.

    Raises
    ------
    EvenhandError
        Where nothing of it can be read, or it holds too much.
    """
    called = "".join(each for each in name if each.isprintable() and each not in "/\\")[:80] or "what came"
    if is_score(content):
        return _of_score(content, called, options, most)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        got = f"{called}, neither text in UTF-8 nor a score"
        raise WrongOptions(got=got, must_be="MusicXML, MIDI, or a text file") from None
    found = read_list(text, name=called, most=most)
    told = found.wrong[:MOST_TOLD]
    more = len(found.wrong) - len(told)
    return _checked(Understood(called, "text", found.entries, told, more, found.assumed))


def _of_score(content: bytes, name: str, options: ImportOptions, most: int) -> Understood:
    with TemporaryDirectory() as folder:
        place = Path(folder) / name
        place.write_bytes(content)
        (found,) = import_scores([place], options)
    if len(found.entries) > most:
        raise WrongOptions(got=f"{name} with {len(found.entries)} exercises", must_be=f"at most {most}")
    return _checked(Understood(name, "score", found.entries, found.warnings))


def _checked(found: Understood) -> Understood:
    if len(found.text) > LONGEST_BOOK:
        got = f"{found.name} with {len(found.text):,} characters"
        raise WrongOptions(got=got, must_be=f"at most {LONGEST_BOOK:,}; bring it in in parts")
    return found


def chosen(text: str, ticked: Sequence[int], section: str, *, most: int) -> list[BookEntry]:
    """Return those exercises of a book's text that were ticked, counted from 0.

    One without a section gets the one that is given.

    Raises
    ------
    BadBook
        Where it is not the text that was sent.
    """
    wanted = set(ticked)
    return [
        BookEntry(
            "",
            print_exercise(each.exercise),
            each.title,
            each.section or section,
            mark=mark_text(each.mark) if each.mark else "",
        )
        for number, each in enumerate(parse_book(text, name="the preview", most=most).entries)
        if number in wanted
    ]
