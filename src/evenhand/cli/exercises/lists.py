"""The group ``evenhand exercises``: books, rudiments, import; and ``evenhand export``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.exercises.choose import choose, cover, generate
from evenhand.cli.exercises.library import library
from evenhand.cli.options import (
    BookOutOption,
    ExerciseOption,
    HistoryOption,
    JsonOption,
    PdfOutOption,
    TempoOption,
    students_takes,
)
from evenhand.cli.results import STDOUT, check_places, give, group_help, say_line, shown, write
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenhand.acts.exercises.convert import Form, Imported
    from evenhand.music.rudiments import Rudiment
    from evenhand.progress.history import History


FilesArgument = Annotated[
    list[Path],
    typer.Argument(metavar="FILE...", help="MusicXML (.musicxml, .xml, .mxl), Standard MIDI Files, or text."),
]
PartOption = Annotated[
    str | None,
    typer.Option("--part", metavar="NAME", help="In a score: the part's name or number, if not percussion."),
]
HandsOption = Annotated[
    Literal["refuse", "alternate", "doubles", "lead", "right"],
    typer.Option(
        "--hands",
        help="What becomes of notes without a hand: refused; or proposed, hand to hand, in doubles, "
        "led by the right hand, or all right.",
    ),
]
GridOption = Annotated[
    str | None,
    typer.Option(
        "--grid", metavar="VALUES", help="In MIDI: note values that notes are moved to, such as 1/16,1/12."
    ),
]
BarsOption = Annotated[
    str | None, typer.Option("--bars", metavar="BARS", help="Which bars are wanted, such as 5-12.")
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
    out: BookOutOption = None,
    json: JsonOption = None,
    part: PartOption = None,
    hands: HandsOption = "refuse",
    right_note: RightOption = None,
    left_note: LeftOption = None,
    bars: BarsOption = None,
    grid: GridOption = None,
) -> None:
    """Take exercises over from MusicXML, MIDI or lists of stickings.

    Hands are read from letters under the notes, fingerings or words; in MIDI from words beside the notes or
    from two notes. Hands that a rule proposes are marked. Without --out or --json the exercises are printed,
    a line each, as in a book.
    """
    check_places(json, out, reads=files)
    from evenhand.acts.exercises.convert import ImportOptions, bars_from, grids_from, import_scores

    wanted = bars_from(bars) if bars else None
    grids = grids_from(grid) if grid else ()
    options = ImportOptions(part, hands, right_note, left_note, wanted, grids)
    _convert_give(import_scores(files, options), out, json)


def _convert_give(imported: tuple[Imported, ...], out: Path | None, json: Path | None) -> None:
    """Write what was asked for, and say what there is to say."""
    from evenhand.acts.exercises.convert import book_of, imported_json
    from evenhand.music.book import print_book

    book = book_of(imported)
    printed = out if out is not None or json is not None else STDOUT
    is_free = give((json, lambda: imported_json(imported)), (printed, lambda: print_book(book)))
    if json != STDOUT:
        for each in imported:
            for warning in each.warnings:
                say_line(f"{each.file}: {warning}.")
    if is_free:
        number = len(book.entries)
        typer.echo(f"{count(number, 'exercise')} in {out or json}")


SvgOption = Annotated[
    Path | None,
    typer.Option("--svg", metavar="FILE", allow_dash=True, help="Draw it as a picture; - for stdout."),
]
MusicXmlOption = Annotated[
    Path | None,
    typer.Option(
        "--musicxml", metavar="FILE", allow_dash=True, help="Write MusicXML 4.0, with R and L as lyrics."
    ),
]
MidiOption = Annotated[
    Path | None, typer.Option("--midi", metavar="FILE", help="Write a Standard MIDI File, to be played.")
]
MeiOption = Annotated[
    Path | None, typer.Option("--mei", metavar="FILE", allow_dash=True, help="Write MEI 5, for engravers.")
]
RepeatOption = Annotated[
    int | None,
    typer.Option(
        "--repetitions",
        "--repeat",
        metavar="N",
        min=1,
        max=9999,
        help="Repetitions; MIDI is written out as often. Left open if not given.",
    ),
]
ScoreTitleOption = Annotated[
    str, typer.Option("--title", metavar="TEXT", help="What it is called in the files.")
]
LettersOption = Annotated[
    bool, typer.Option("--stroke-letters", help="Write F, D, T or U under each note: full, down, tap, up.")
]
RollsOption = Annotated[
    Literal["typed", "written", "short"],
    typer.Option("--rolls", help="In SVG and MEI: as typed, every note, or open rolls as slashed notes."),
]
WidthOption = Annotated[
    int, typer.Option("--width", metavar="PX", min=160, max=20_000, help="How wide a line of the SVG may be.")
]
MidiNoteOption = Annotated[
    int, typer.Option("--midi-note", metavar="NUMBER", min=0, max=127, help="The drum's MIDI note.")
]


def export(
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    repeat: RepeatOption = None,
    svg: SvgOption = None,
    musicxml: MusicXmlOption = None,
    midi: MidiOption = None,
    mei: MeiOption = None,
    title: ScoreTitleOption = "",
    stroke_letters: LettersOption = False,  # noqa: FBT002 - a switch
    rolls: RollsOption = "typed",
    width: WidthOption = 760,
    midi_note: MidiNoteOption = 38,
) -> None:
    """Write an exercise as SVG, MusicXML, MIDI or MEI.

    Several at once if you like. docs/export.md says what each of them can carry.
    """
    wanted = _places({"svg": svg, "musicxml": musicxml, "midi": midi, "mei": mei})
    from evenhand.acts.exercises.convert import ExportOptions, export_exercise, read_wanted

    written, beats = read_wanted(exercise, tempo)
    options = ExportOptions(beats, repeat, title, stroke_letters, rolls, width, midi_note)
    made = [(place, export_exercise(written, form, options)) for form, place in wanted.items()]
    for place, content in made:
        write(place, content)
        if STDOUT not in wanted.values():
            typer.echo(f"{place}: {len(content):,} bytes")


def _places(asked: dict[Form, Path | None]) -> dict[Form, Path]:
    """Return where each form is to go; refuse none, and two in one place."""
    places = {form: place for form, place in asked.items() if place is not None}
    if not places:
        raise WrongOptions(got="no file to write", must_be="at least one of --svg, --musicxml, --midi, --mei")
    if len(set(places.values())) < len(places):
        raise WrongOptions(got="one place for two files", must_be="a place for each")
    if places.get("midi") == STDOUT:
        raise WrongOptions(got="--midi -", must_be="a file: MIDI is not text")
    check_places(*places.values())
    return places


PrintedBooks = Annotated[
    list[Path],
    typer.Argument(metavar="BOOK...", exists=True, help="Books of exercises, or folders of them."),
]
TitleOption = Annotated[
    str, typer.Option("--title", metavar="TEXT", help="What stands on top, in place of the book's own title.")
]


BookPaperOption = Annotated[
    Literal["a4", "letter", "pocket"], typer.Option("--paper", help="The paper's size; pocket is A6.")
]
EditionOption = Annotated[
    Literal["right", "left"] | None,
    typer.Option(
        "--edition",
        help="For right-handed players, as written, or for left-handed: hands swapped.",
    ),
]


def print_book(
    books: PrintedBooks,
    out: PdfOutOption,
    title: TitleOption = "",
    paper: BookPaperOption = "a4",
    edition: EditionOption = None,
) -> None:
    """Print a book of exercises.

    It has a title page, how to practise, contents, sections with their opening texts, and every exercise
    engraved. The same book and options give the same bytes.
    """
    check_places(out, reads=books)
    from evenhand.acts.exercises import print as act
    from evenhand.acts.exercises.books import read_books

    book = read_books(books)
    with shown(f"engraving {len(book.entries):,} exercises") as progress:
        pages = act.print_book(book, title=title, paper=paper, edition=edition, progress=progress)
    if give((out, lambda: pages)):
        number = len(book.entries)
        typer.echo(f"  {count(number, 'exercise is', 'exercises are')} in {out}")


RUNGS_HEARD = ("", "slow heard", "middle heard", "target heard")
FamilyOption = Annotated[
    Literal["roll", "diddle", "flam", "drag"] | None,
    typer.Option("--family", help="Only this family of the forty."),
]


def rudiments(
    family: FamilyOption = None,
    history: HistoryOption = None,
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """List the forty standard rudiments, each with three tempos.

    With a student's history it says up to which of the three each was heard in control, for the teacher to
    sign off. What else there is to practise is in evenhand exercises library.
    """
    check_places(json, out)
    from evenhand.acts.exercises.rudiments import list_rudiments

    _give(list_rudiments(family), json, out, None if history is None else students_takes(history))


def _give(listed: Sequence[Rudiment], json: Path | None, out: Path | None, history: History | None) -> None:
    """Write what was asked for; with nothing asked for, show it."""
    from evenhand.acts.exercises.rudiments import as_book, rudiments_json
    from evenhand.music.book import print_book

    is_free = give(
        (json, lambda: rudiments_json(listed, history)), (out, lambda: print_book(as_book(listed)))
    )
    if json is None and out is None:
        _show(listed, history)
    elif is_free:
        places = " and in ".join(str(place) for place in (out, json) if place is not None)
        typer.echo(f"{len(listed)} exercises are in {places}")


def _show(listed: Sequence[Rudiment], history: History | None) -> None:
    from evenhand.acts.exercises.rudiments import rungs_heard
    from evenhand.cli.tables.exercises import exercise_table, say_all
    from evenhand.music.library.forty import ladder

    numbers = [str(each.number) for each in listed]
    rungs = [ladder(each) for each in listed]
    ladders = [f"{slow} · {middle.bpm:g} · {target.bpm:g}" for slow, middle, target in rungs]
    if history is not None:
        heard = [RUNGS_HEARD[rungs_heard(each, history)] for each in listed]
        ladders = [f"{rungs}   {said}".rstrip() for rungs, said in zip(ladders, heard, strict=True)]
    say_all([exercise_table([each.entry for each in listed], numbers, ladders)])


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
exercises.command("library")(library)
exercises.command("generate")(generate)
exercises.command("cover")(cover)
exercises.command("choose")(choose)
exercises.command("book")(book)
exercises.command("import")(import_score)
exercises.command("print")(print_book)
