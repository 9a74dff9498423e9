"""Exercises from and for other programs: ``evenhand exercises import`` and ``evenhand export``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import BookOutOption, ExerciseOption, JsonOption, TempoOption
from evenhand.cli.results import STDOUT, check_places, give, say_line, write
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from evenhand.acts.exercises.convert import Form, Imported


FilesArgument = Annotated[
    list[Path],
    typer.Argument(metavar="FILE...", help="MusicXML (.musicxml, .xml, .mxl) or Standard MIDI Files."),
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
    out: BookOutOption = None,
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
    check_places(json, out, reads=files)
    from evenhand.acts.exercises.convert import ImportOptions, import_scores

    options = ImportOptions(part, hands, right_note, left_note)
    _give(import_scores(files, options), out, json)


def _give(imported: tuple[Imported, ...], out: Path | None, json: Path | None) -> None:
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
TitleOption = Annotated[str, typer.Option("--title", metavar="TEXT", help="What it is called in the files.")]
LettersOption = Annotated[
    bool, typer.Option("--stroke-letters", help="Write F, D, T or U under each note: full, down, tap, up.")
]
RollsOption = Annotated[
    Literal["written", "short"],
    typer.Option("--rolls", help="In SVG and MEI: draw every note, or open rolls as slashed notes."),
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
    title: TitleOption = "",
    stroke_letters: LettersOption = False,  # noqa: FBT002 - a switch
    rolls: RollsOption = "written",
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
