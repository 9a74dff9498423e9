"""``evenhand exercises print``: print a book of exercises with contents."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_bytes
from evenhand.cli.progress import shown

BooksArgument = Annotated[
    list[Path],
    typer.Argument(metavar="BOOK...", exists=True, help="Books of exercises, or folders of them."),
]
OutOption = Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="Where the printed book goes.")]
TitleOption = Annotated[
    str, typer.Option("--title", metavar="TEXT", help="What stands on top, in place of the book's own title.")
]
PaperOption = Annotated[Literal["a4", "letter"], typer.Option("--paper", help="The paper's size.")]


def print_book(
    books: BooksArgument, out: OutOption, title: TitleOption = "", paper: PaperOption = "a4"
) -> None:
    """Print a book of exercises.

    It has contents, sections, and every exercise engraved. The same book and options give the same bytes.
    """
    check_places(out, reads=books)
    from evenhand.application import print_book as act
    from evenhand.application.keep_book import read_books

    book = read_books(books)
    with shown(f"engraving {len(book.entries):,} exercises") as progress:
        pages = act.print_book(book, title=title, paper=paper, progress=progress)
    write_bytes(out, pages)
    if out != STDOUT:
        count = len(book.entries)
        typer.echo(f"  {count:,} {'exercise is' if count == 1 else 'exercises are'} in {out}")
