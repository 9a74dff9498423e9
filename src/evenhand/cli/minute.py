"""``evenhand minute``: count the single strokes of a minute."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.cli.options import MidiNotesOption, midi_notes_of
from evenhand.cli.progress import shown

if TYPE_CHECKING:  # brings numpy, which the help need not wait for
    from evenhand.domain.minute import HeardMinute

TakeArgument = Annotated[
    Path,
    typer.Argument(
        metavar="TAKE", exists=True, dir_okay=False, help="A recording, a video, or a Standard MIDI File."
    ),
]
SecondsOption = Annotated[
    float,
    typer.Option(
        "--seconds", metavar="S", min=2, max=3600, help="How long is counted, from the first stroke on."
    ),
]
ClickInOption = Annotated[
    Literal["heard", "none"], typer.Option("--click", help="Whether a click sounds in the recording.")
]
FirstHandOption = Annotated[
    Literal["R", "L"] | None,
    typer.Option("--first", help="The hand that began: then the hands have their names."),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all figures as JSON; - for stdout."),
]
ReportOption = Annotated[
    Path | None, typer.Option("--report", metavar="FILE", help="Write the page, one HTML file.")
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Write the picture of the rate alone.")
]


def minute(
    take: TakeArgument,
    seconds: SecondsOption = 60.0,
    click: ClickInOption = "none",
    first: FirstHandOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    picture: PictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Count the single strokes of a minute.

    Says how even they are and whether they tire. The count begins at the first stroke. A
    shorter take is counted whole; its rate gives strokes a minute.
    """
    notes = midi_notes_of(midi_notes)
    check_places(json, report, picture, reads=(take,))
    heard = _hear(take, seconds, click, first, notes)
    _give(heard, json, report, picture)


def _hear(
    take: Path,
    seconds: float,
    click: Literal["heard", "none"],
    first: Literal["R", "L"] | None,
    midi_notes: tuple[int, ...],
) -> HeardMinute:
    """Hear the take, with a line of progress where it is long."""
    from evenhand.media.decoder import warm_up

    warm_up(take)  # the decoder starts while the rest is loaded
    from evenhand.application.hear_minute import MinuteAsked, hear_minute
    from evenhand.media.open_take import open_take

    asked = MinuteAsked(seconds, click, first)
    with shown(f"hearing {take.name}") as progress:
        return hear_minute(take, asked, opens=open_take, midi_notes=midi_notes, progress=progress)


def _give(heard: HeardMinute, json: Path | None, report: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.application.minute_json import minute_text

        write_text(json, minute_text(heard))
    if report is not None or picture is not None:
        from evenhand.pages.minute_page import minute_drawing, minute_page

        if report is not None:
            write_text(report, minute_page(heard))
        if picture is not None:
            write_text(picture, minute_drawing(heard))
    if STDOUT not in {json, report, picture}:
        from evenhand.cli.minute_summary import say

        say(heard)
