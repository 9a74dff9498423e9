"""A book of exercises as printed pages: title, contents, and the music in two columns.

Conventions: lengths in pt, but music's own px. Exercises are numbered through the book.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from evenhand.music.book import Book
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.report.plots.markup import shortened
from evenhand.report.print.setting import (
    SETTER_PAPERS,
    WIDTHS_PT,
    Paper,
    one_line,
    printed_lines,
    set_pages,
)
from evenhand.report.words.figures import count

DEFAULT_TITLE = "Exercises"
MARGIN_PT = 45.0
GUTTER_PT = 22.0
NUMBER_PT = 20.0  # the room of the exercises' numbers
HEADING_GAP_PT = 3.0  # the setter's own, between a heading's number and its words
PT_PER_PX = 0.34
LONG_LINES = 12  # an exercise of more lines may be broken over pages
MOST_LISTED = 200  # titles in the contents; of a longer book its sections stand there
FEW = 10  # so few exercises follow their contents on the same page
LONGEST_FOOT = 80  # letters


def music_px(paper: Paper) -> float:
    """Return how wide a line of music may be engraved, px."""
    column = (WIDTHS_PT[paper] - 2 * MARGIN_PT - GUTTER_PT) / 2
    return (column - NUMBER_PT) / PT_PER_PX


def book_pdf(book: Book, music: Sequence[EngravedExercise], *, title: str = "", paper: Paper = "a4") -> bytes:
    """Return a book as PDF; ``music`` is each entry's, engraved at most ``music_px(paper)`` wide.

    Raises
    ------
    UnprintableText, CannotPrint
        Where a letter is in no font that is there, or the pages cannot be set.
    """
    return set_pages("book_pages.typ", book_data(book, music, title=title, paper=paper))


def book_data(
    book: Book, music: Sequence[EngravedExercise], *, title: str = "", paper: Paper = "a4"
) -> dict[str, object]:
    """Return what the template reads."""
    heading = one_line(title) or one_line(book.title) or DEFAULT_TITLE
    many = len(book.entries)
    return {
        "title": heading,
        "date": None,
        "heading": heading,
        "count": count(many, "exercise"),
        "foot": shortened(heading, LONGEST_FOOT),
        "sections": any(entry.section for entry in book.entries),
        "depth": _depth(book),
        "opens": many > FEW,
        "parts": _parts(book, music),
        "paper": SETTER_PAPERS[paper],
        "margin": MARGIN_PT,
        "gutter": GUTTER_PT,
        "number_width": NUMBER_PT - HEADING_GAP_PT,
    }


def _depth(book: Book) -> int:
    """Say how deep the contents go: to the titles, to the sections, or (0) that there are none."""
    titled = any(entry.title for entry in book.entries)
    sections = any(entry.section for entry in book.entries)
    if titled and len(book.entries) <= MOST_LISTED:
        return 3 if sections else 2
    return 2 if sections else 0


def _parts(book: Book, music: Sequence[EngravedExercise]) -> list[dict[str, object]]:
    """Return the sections in their order, each with its exercises."""
    numbered = zip(range(1, len(book.entries) + 1), book.entries, music, strict=True)
    return [
        {
            "section": one_line(section),
            "exercises": [
                {
                    "number": str(number),
                    "title": one_line(entry.title),
                    "level": 3 if section else 2,
                    "music": printed_lines(entry.exercise, engraved, PT_PER_PX),
                    "long": len(engraved.lines) > LONG_LINES,
                }
                for number, entry, engraved in entries
            ],
        }
        for section, entries in groupby(numbered, key=lambda each: each[1].section)
    ]
