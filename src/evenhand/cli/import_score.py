"""``evenhand exercises import``: take exercises over from MusicXML or Standard MIDI Files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.cli.stderr import say_line
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.application.import_score import Imported

FilesArgument = Annotated[
    list[Path],
    typer.Argument(metavar="FILE...", help="MusicXML (.musicxml, .xml, .mxl) or Standard MIDI Files."),
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="BOOK.txt", allow_dash=True, help="Write a book; - for stdout."),
]
JsonOption = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", allow_dash=True, help="Write JSON; - for stdout.")
]
PartOption = Annotated[
    str | None,
    typer.Option("--part", metavar="NAME", help="In a score: the part's name or number, if not percussion."),
]
HandsOption = Annotated[
    Literal["refuse", "alternate", "right"],
    typer.Option(
        "--hands", help="What becomes of notes without a hand: refused, hand to hand, or all right."
    ),
]
RightOption = Annotated[
    int | None,
    typer.Option("--right-note", metavar="NUMBER", help="In MIDI: the note that the right hand plays."),
]
LeftOption = Annotated[
    int | None,
    typer.Option("--left-note", metavar="NUMBER", help="In MIDI: the note that the left hand plays."),
]


def import_score(
    files: FilesArgument,
    out: OutOption = None,
    json: JsonOption = None,
    part: PartOption = None,
    hands: HandsOption = "refuse",
    right_note: RightOption = None,
    left_note: LeftOption = None,
) -> None:
    """Take exercises over from MusicXML or Standard MIDI Files.

    Hands are read from letters under the notes, fingerings or words; in MIDI from words beside the notes or
    from two notes. Without --out or --json the exercises are printed, a line each, as in a book.
    """
    if json is not None and json == out:
        raise WrongOptions(got=f"--json and --out both as {out}", must_be="two places")
    check_places(json, out, reads=files)
    from evenhand.application.import_score import ImportWishes, import_scores
    from evenhand.media.scores import open_score

    wishes = ImportWishes(part, hands, right_note, left_note)
    _give(import_scores(files, opens=open_score, wishes=wishes), out, json)


def _give(imported: tuple[Imported, ...], out: Path | None, json: Path | None) -> None:
    """Write what was asked for, and say what there is to say."""
    from evenhand.application.import_score import book_of, imported_json
    from evenhand.craft.book_text import print_book

    book = book_of(imported)
    if json is not None:
        write_text(json, imported_json(imported))
    if out is not None or json is None:
        write_text(out or STDOUT, print_book(book))
    if json != STDOUT:
        for each in imported:
            for warning in each.warnings:
                say_line(f"{each.file}: {warning}.")
    if STDOUT not in {out, json} and (out or json):
        count = len(book.entries)
        typer.echo(f"{count} exercise{'' if count == 1 else 's'} in {out or json}")
