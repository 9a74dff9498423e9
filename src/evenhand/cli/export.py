"""``evenhand export``: write an exercise as SVG, MusicXML, MIDI or MEI."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_bytes
from evenhand.cli.options import TempoOption
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.application.export_exercise import Form

WrittenOption = Annotated[
    str | None,
    typer.Option("--exercise", metavar="TEXT", help="What is to be written, such as '1/8: RLRR LRLL'."),
]
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
    exercise: WrittenOption = None,
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
    from evenhand.application.export_exercise import ExportWishes, export_exercise, read_wanted

    written, beats = read_wanted(exercise, tempo)
    wishes = ExportWishes(beats, repeat, title, stroke_letters, rolls, width, midi_note)
    made = [(place, export_exercise(written, form, wishes)) for form, place in wanted.items()]
    for place, content in made:
        write_bytes(place, content)
        if place != STDOUT and STDOUT not in wanted.values():
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
