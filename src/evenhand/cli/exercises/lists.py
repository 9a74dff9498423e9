"""Exercises in lists: the group ``evenhand exercises``, books listed and printed, the standard rudiments."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.exercises.choose import choose, cover
from evenhand.cli.exercises.convert import import_score
from evenhand.cli.exercises.generate import generate
from evenhand.cli.options import BookOutOption, JsonOption, PaperOption, PdfOutOption
from evenhand.cli.results import check_places, give, group_help, shown
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenhand.acts.exercises.rudiments import Families, ListedRudiment


PrintedBooks = Annotated[
    list[Path],
    typer.Argument(metavar="BOOK...", exists=True, help="Books of exercises, or folders of them."),
]
TitleOption = Annotated[
    str, typer.Option("--title", metavar="TEXT", help="What stands on top, in place of the book's own title.")
]


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
    if give((out, lambda: pages)):
        number = len(book.entries)
        typer.echo(f"  {count(number, 'exercise is', 'exercises are')} in {out}")


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


def rudiments(
    family: FamilyOption = None,
    with_families: WithFamiliesOption = False,  # noqa: FBT002 - a switch
    families: FamiliesOption = False,  # noqa: FBT002 - a switch
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """List the forty standard rudiments, or other families.

    The families are common practice.
    """
    from evenhand.acts.exercises.rudiments import list_rudiments

    beside = _families(with_families=with_families, alone=families)
    if family is not None and beside == "alone":
        raise WrongOptions(
            got="--family with --families", must_be="one of them: --family is one of the forty's"
        )
    check_places(json, out)
    _give(list_rudiments(family=family, with_families=beside), json, out)


def _families(*, with_families: bool, alone: bool) -> Families:
    if with_families and alone:
        raise WrongOptions(got="--with-families and --families", must_be="one of them")
    if alone:
        return "alone"
    return "beside" if with_families else "none"


def _give(listed: Sequence[ListedRudiment], json: Path | None, out: Path | None) -> None:
    """Write what was asked for; with nothing asked for, show it."""
    from evenhand.acts.exercises.rudiments import as_book, rudiments_json
    from evenhand.music.book import print_book

    is_free = give((json, lambda: rudiments_json(listed)), (out, lambda: print_book(as_book(listed))))
    if json is None and out is None:
        _show(listed)
    elif is_free:
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


def book(
    books: BooksArgument,
    same: SameOption = False,  # noqa: FBT002 - a switch
    without_same: WithoutSameOption = False,  # noqa: FBT002 - a switch
    up_to: UpToOption = "rotation-swap",
    sort: SortOption = None,
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """List, sort and tidy books of exercises.

    Finds those that are the same, and writes the rest out as one book.
    """
    from evenhand.acts.exercises.books import book_json, read_shelf, tidy
    from evenhand.music.book import print_book

    check_places(json, out)
    check_places(json, reads=books)  # a book may be written over itself
    tidied = tidy(read_shelf(books), up_to=up_to, without_same=without_same, sorted_by=sort)
    if give((json, lambda: book_json(tidied)), (out, lambda: print_book(tidied.shelf.book))):
        from evenhand.cli.tables.exercises import say_book

        say_book(tidied, same=same, listed=json is None and out is None, written=out or json)


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
