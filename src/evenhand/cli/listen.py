"""``evenhand listen``: hear one take."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.application.asked import Asked
from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.cli.options import (
    BeginsAtOption,
    ClickOption,
    ExerciseOption,
    MidiNotesOption,
    TempoOption,
    midi_notes_of,
)
from evenhand.cli.progress import shown

if TYPE_CHECKING:  # brings numpy, which the help need not wait for
    from evenhand.domain.heard_take import HeardTake

TakeArgument = Annotated[
    Path,
    typer.Argument(
        metavar="TAKE", exists=True, dir_okay=False, help="A recording, a video, or a Standard MIDI File."
    ),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all figures as JSON; - for stdout."),
]
ReportOption = Annotated[
    Path | None, typer.Option("--report", metavar="FILE", help="Write the report, one HTML page.")
]


def listen(
    take: TakeArgument,
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    click: ClickOption = "auto",
    begins_at: BeginsAtOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Hear one take, and say what each hand did.

    Without an exercise it is heard blind: every hit's time and level, but no hands.
    """
    asked = Asked.read(exercise, tempo, click, begins_at_s=begins_at)
    notes = midi_notes_of(midi_notes)
    check_places(json, report, reads=(take,))
    heard = _hear(take, asked, notes)
    _give(heard, json, report)


def _hear(take: Path, asked: Asked, midi_notes: tuple[int, ...]) -> HeardTake:
    """Hear the take, with a line of progress where it is long."""
    from evenhand.media.decoder import warm_up

    warm_up(take)  # the decoder starts while the rest is loaded
    from evenhand.application.hear_take import hear_take
    from evenhand.media.open_take import open_take

    with shown(f"hearing {take.name}") as progress:
        return hear_take(take, asked, opens=open_take, midi_notes=midi_notes, progress=progress)


def _give(heard: HeardTake, json: Path | None, report: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.application.as_json import json_text

        write_text(json, json_text(heard))
    if report is not None:
        from evenhand.application.write_report import report_text

        write_text(report, report_text(heard))
    if STDOUT not in {json, report}:
        from evenhand.cli.summary import say

        say(heard, report=report)
