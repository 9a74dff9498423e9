"""``evenhand exercises book``: read the teacher's books, find the same exercises, sort, write out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.application.tidy_book import TidyBook

BooksArgument = Annotated[
    list[Path],
    typer.Argument(
        metavar="BOOK...", help="Text files with one exercise a line, or folders of such *.txt files."
    ),
]
SameOption = Annotated[bool, typer.Option("--same", help="List the exercises that are the same as another.")]
WithoutSameOption = Annotated[
    bool, typer.Option("--without-same", help="Keep only the first of those that are the same.")
]
UpToOption = Annotated[
    Literal["none", "rotation", "swap", "rotation-swap"],
    typer.Option(
        "--up-to",
        help="What still counts as the same: begun at another note (rotation), hands swapped (swap), "
        "both, or neither.",
    ),
]
SortOption = Annotated[
    Literal["section", "title", "notes"] | None,
    typer.Option("--sort", help="Gather the sections, and sort inside each by title or number of notes."),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write it all as JSON; - for stdout."),
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="BOOK.txt", allow_dash=True, help="Write one book; - for stdout."),
]


def book(
    books: BooksArgument,
    same: SameOption = False,  # noqa: FBT002 - a switch
    without_same: WithoutSameOption = False,  # noqa: FBT002 - a switch
    up_to: UpToOption = "rotation-swap",
    sort: SortOption = None,
    json: JsonOption = None,
    out: OutOption = None,
) -> None:
    """List, sort and tidy books of exercises.

    Finds those that are the same, and writes the rest out as one book.
    """
    from evenhand.application.keep_book import read_shelf
    from evenhand.application.tidy_book import tidy

    if json is not None and json == out:
        raise WrongOptions(got=f"--json and --out both as {out}", must_be="two places")
    check_places(out)  # a book may be written over itself
    check_places(json, reads=books)
    tidied = tidy(read_shelf(books), up_to=up_to, without_same=without_same, sorted_by=sort)
    _write(tidied, json, out)
    if STDOUT not in {json, out}:
        from evenhand.cli.book_summary import say

        say(tidied, same=same, listed=json is None and out is None, written=out or json)


def _write(tidied: TidyBook, json: Path | None, out: Path | None) -> None:
    """Write what was asked for."""
    if json is not None:
        from evenhand.application.tidy_book import book_json

        write_text(json, book_json(tidied))
    if out is not None:
        from evenhand.craft.book_text import print_book

        write_text(out, print_book(tidied.shelf.book))
