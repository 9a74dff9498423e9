"""``evenhand exercises``: the book, the rudiments, generating and choosing.

``evenhand exercises print``: print a book of exercises with contents.

``evenhand exercises rudiments``: the forty standard rudiments, and families of common practice.

``evenhand exercises book``: read the teacher's books, find the same exercises, sort, write out.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.exercises.choose import choose, cover
from evenhand.cli.exercises.convert import import_score
from evenhand.cli.exercises.generate import generate
from evenhand.cli.results import STDOUT, check_places, group_help, shown, write_bytes, write_text
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenhand.acts.exercises.books import TidyBook
    from evenhand.acts.exercises.generate import Families, ListedRudiment


PrintedBooks = Annotated[
    list[Path],
    typer.Argument(metavar="BOOK...", exists=True, help="Books of exercises, or folders of them."),
]
PdfOutOption = Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="Where the printed book goes.")]
TitleOption = Annotated[
    str, typer.Option("--title", metavar="TEXT", help="What stands on top, in place of the book's own title.")
]
PaperOption = Annotated[Literal["a4", "letter"], typer.Option("--paper", help="The paper's size.")]


def print_book(
    books: PrintedBooks, out: PdfOutOption, title: TitleOption = "", paper: PaperOption = "a4"
) -> None:
    """Print a book of exercises.

    It has contents, sections, and every exercise engraved. The same book and options give the same bytes.
    """
    check_places(out, reads=books)
    from evenhand.acts.exercises import print as act
    from evenhand.acts.exercises.books import read_books

    book = read_books(books)
    with shown(f"engraving {len(book.entries):,} exercises") as progress:
        pages = act.print_book(book, title=title, paper=paper, progress=progress)
    write_bytes(out, pages)
    if out != STDOUT:
        count = len(book.entries)
        typer.echo(f"  {count:,} {'exercise is' if count == 1 else 'exercises are'} in {out}")


FamilyOption = Annotated[
    Literal["roll", "diddle", "flam", "drag"] | None,
    typer.Option("--family", help="Only this family of the forty."),
]
WithFamiliesOption = Annotated[
    bool, typer.Option("--with-families", help="Families of common practice after the forty.")
]
FamiliesOption = Annotated[
    bool, typer.Option("--families", help="Families of common practice in place of the forty.")
]
ListJsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write them as JSON; - for stdout."),
]
ListOutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="BOOK.txt", allow_dash=True, help="Write them as a book; - for stdout."),
]


def rudiments(
    family: FamilyOption = None,
    with_families: WithFamiliesOption = False,  # noqa: FBT002 - a switch
    families: FamiliesOption = False,  # noqa: FBT002 - a switch
    json: ListJsonOption = None,
    out: ListOutOption = None,
) -> None:
    """List the forty standard rudiments, or other families.

    The families are common practice.
    """
    from evenhand.acts.exercises.generate import list_rudiments

    beside = _families(with_families=with_families, alone=families)
    if family is not None and beside == "alone":
        raise WrongOptions(
            got="--family with --families", must_be="one of them: --family is one of the forty's"
        )
    _check_places(json, out)
    _give(list_rudiments(family=family, with_families=beside), json, out)


def _families(*, with_families: bool, alone: bool) -> Families:
    if with_families and alone:
        raise WrongOptions(got="--with-families and --families", must_be="one of them")
    if alone:
        return "alone"
    return "beside" if with_families else "none"


def _check_places(json: Path | None, out: Path | None) -> None:
    if json is not None and json == out:
        raise WrongOptions(got=f"--json and --out both as {out}", must_be="two places")
    check_places(json, out)


def _give(listed: Sequence[ListedRudiment], json: Path | None, out: Path | None) -> None:
    """Write what was asked for; with nothing asked for, show it."""
    if json is not None:
        from evenhand.acts.exercises.generate import rudiments_json

        write_text(json, rudiments_json(listed))
    if out is not None:
        from evenhand.acts.exercises.generate import as_book
        from evenhand.music.book import print_book

        write_text(out, print_book(as_book(listed)))
    if json is None and out is None:
        _show(listed)
    elif STDOUT not in {json, out}:
        places = " and in ".join(str(place) for place in (out, json) if place is not None)
        typer.echo(f"{len(listed)} exercises are in {places}")


def _show(listed: Sequence[ListedRudiment]) -> None:
    from evenhand.cli.tables.exercises import exercise_table, say_all

    numbers = [str(each.number or "") for each in listed]
    say_all([exercise_table([each.entry for each in listed], numbers)])


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
    from evenhand.acts.exercises.books import read_shelf, tidy

    if json is not None and json == out:
        raise WrongOptions(got=f"--json and --out both as {out}", must_be="two places")
    check_places(out)  # a book may be written over itself
    check_places(json, reads=books)
    tidied = tidy(read_shelf(books), up_to=up_to, without_same=without_same, sorted_by=sort)
    _write(tidied, json, out)
    if STDOUT not in {json, out}:
        from evenhand.cli.tables.exercises import say_book as say

        say(tidied, same=same, listed=json is None and out is None, written=out or json)


def _write(tidied: TidyBook, json: Path | None, out: Path | None) -> None:
    """Write what was asked for."""
    if json is not None:
        from evenhand.acts.exercises.books import book_json

        write_text(json, book_json(tidied))
    if out is not None:
        from evenhand.music.book import print_book

        write_text(out, print_book(tidied.shelf.book))


exercises = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
exercises.callback(invoke_without_command=True)(group_help("Write, generate, choose and keep exercises."))
exercises.command("rudiments")(rudiments)
exercises.command("generate")(generate)
exercises.command("cover")(cover)
exercises.command("choose")(choose)
exercises.command("book")(book)
exercises.command("import")(import_score)
exercises.command("print")(print_book)
