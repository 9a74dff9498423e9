"""Print a book of exercises, with contents."""

from __future__ import annotations

from collections.abc import Callable

from evenhand.errors import WrongOptions
from evenhand.music.book import Book
from evenhand.music.engraving.engrave import engrave
from evenhand.report.print.book_pages import BookPaper, Edition, book_pdf, left_handed, music_px

MOST_EXERCISES = 5000


def print_book(
    book: Book,
    *,
    title: str = "",
    paper: BookPaper = "a4",
    edition: Edition | None = None,
    progress: Callable[[float], None] | None = None,
) -> bytes:
    """Engrave a book's exercises and set its pages as PDF; the same book gives the same bytes.

    A book is written right-handed: its left-handed ``edition`` has the hands swapped. ``progress`` is given
    the share of the music that is engraved.
    """
    if not 1 <= len(book.entries) <= MOST_EXERCISES:
        raise WrongOptions(
            got=f"{len(book.entries):,} exercises", must_be=f"1 to {MOST_EXERCISES:,} in a book"
        )
    if edition == "left":
        book = left_handed(book)
    width = music_px(paper)
    music = []
    for done, entry in enumerate(book.entries, start=1):
        music.append(engrave(entry.exercise, width=width, spacing="note", rolls="typed"))
        if progress:
            progress(done / len(book.entries))
    return book_pdf(book, music, title=title, paper=paper, edition=edition)
