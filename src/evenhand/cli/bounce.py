"""``evenhand bounce``: hear drops of the stick."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.cli.options import MidiNotesOption, UnitOption, midi_notes_of
from evenhand.cli.progress import shown
from evenhand.domain.stroke import Unit
from evenhand.errors import WrongOptions

if TYPE_CHECKING:  # brings numpy, which the help need not wait for
    from evenhand.domain.bounce import HeardBounce

TakeArgument = Annotated[
    Path,
    typer.Argument(
        metavar="TAKE", exists=True, dir_okay=False, help="A recording, a video, or a Standard MIDI File."
    ),
]
GripsOption = Annotated[
    str | None,
    typer.Option("--grips", metavar="NAMES", help="The grip of each drop, in order, with commas between."),
]
HandsOption = Annotated[
    str | None, typer.Option("--hands", metavar="HANDS", help="The hand of each drop, such as R,L,R,L.")
]
TableOption = Annotated[
    Path | None,
    typer.Option(
        "--table",
        metavar="FILE.csv",
        exists=True,
        dir_okay=False,
        help="The same as a table: a heading, grip or hand or both, and a row for each drop.",
    ),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all figures as JSON; - for stdout."),
]
ReportOption = Annotated[
    Path | None, typer.Option("--report", metavar="FILE", help="Write the page, one HTML file.")
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Write the picture of the drops alone.")
]


def bounce(
    take: TakeArgument,
    grips: GripsOption = None,
    hands: HandsOption = None,
    table: TableOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    picture: PictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
    unit: UnitOption = "in",
) -> None:
    """Hear drops of the stick: how freely it rebounds.

    Drop the stick on the pad and leave it alone until it rests; several times, with each hand or grip.
    """
    labels = _labels(grips, hands, table)
    notes = midi_notes_of(midi_notes)
    check_places(json, report, picture, reads=(take, table))
    heard = _hear(take, labels, notes)
    _give(heard, unit, json, report, picture)


def _labels(grips: str | None, hands: str | None, table: Path | None) -> tuple[str, ...]:
    """Read what each drop was, from the one place that says it."""
    if sum(each is not None for each in (grips, hands, table)) > 1:
        raise WrongOptions(got="more than one of --grips, --hands and --table", must_be="one of them")
    from evenhand.application.drop_labels import table_labels, typed_grips, typed_hands

    if grips is not None:
        return typed_grips(grips)
    if hands is not None:
        return typed_hands(hands)
    if table is not None:
        from evenhand.cli.small_files import read_text

        return table_labels(read_text(table), table.name)
    return ()


def _hear(take: Path, labels: tuple[str, ...], midi_notes: tuple[int, ...]) -> HeardBounce:
    """Hear the take, with a line of progress where it is long."""
    from evenhand.media.decoder import warm_up

    warm_up(take)  # the decoder starts while the rest is loaded
    from evenhand.application.hear_bounce import hear_bounce
    from evenhand.media.open_take import open_take

    with shown(f"hearing {take.name}") as progress:
        return hear_bounce(take, labels, opens=open_take, midi_notes=midi_notes, progress=progress)


def _give(
    heard: HeardBounce, unit: Unit, json: Path | None, report: Path | None, picture: Path | None
) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.application.bounce_json import bounce_text

        write_text(json, bounce_text(heard))
    if report is not None or picture is not None:
        from evenhand.pages.bounce_page import bounce_drawing, bounce_page

        if report is not None:
            write_text(report, bounce_page(heard, unit))
        if picture is not None:
            write_text(picture, bounce_drawing(heard))
    if STDOUT not in {json, report, picture}:
        from evenhand.cli.bounce_summary import say

        say(heard, unit)
