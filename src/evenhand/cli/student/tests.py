"""``evenhand bounce``: hear drops of the stick.

``evenhand minute``: count the single strokes of a minute.

``evenhand ceiling``: the fastest tempo at which an exercise is still in control.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.listen import ListArgument, list_text
from evenhand.cli.options import MidiNotesOption, UnitOption, midi_notes_of
from evenhand.cli.results import STDOUT, check_places, say_line, shown, write_text
from evenhand.errors import WrongOptions
from evenhand.music.strokes.heights import Unit

if TYPE_CHECKING:
    from evenhand.acts.takes.ceiling import HeardCeiling
    from evenhand.progress.bounce.restitution import HeardBounce
    from evenhand.progress.minute.rates import HeardMinute


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
    from evenhand.acts.takes.history import table_labels, typed_grips, typed_hands

    if grips is not None:
        return typed_grips(grips)
    if hands is not None:
        return typed_hands(hands)
    if table is not None:
        from evenhand.cli.results import read_text

        return table_labels(read_text(table), table.name)
    return ()


def _hear(take: Path, labels: tuple[str, ...], midi_notes: tuple[int, ...]) -> HeardBounce:
    """Hear the take, with a line of progress where it is long."""
    from evenhand.media.decoder import warm_up

    warm_up(take)  # the decoder starts while the rest is loaded
    from evenhand.acts.takes.bounce import hear_bounce
    from evenhand.media.open_take import open_take

    with shown(f"hearing {take.name}") as progress:
        return hear_bounce(take, labels, opens=open_take, midi_notes=midi_notes, progress=progress)


def _give(
    heard: HeardBounce, unit: Unit, json: Path | None, report: Path | None, picture: Path | None
) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.acts.takes.bounce import bounce_text

        write_text(json, bounce_text(heard))
    if report is not None or picture is not None:
        from evenhand.report.plots.bounce import bounce_drawing, bounce_page

        if report is not None:
            write_text(report, bounce_page(heard, unit))
        if picture is not None:
            write_text(picture, bounce_drawing(heard))
    if STDOUT not in {json, report, picture}:
        from evenhand.cli.tables.tests import say_bounce as say

        say(heard, unit)


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
MinutePictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Write the picture of the rate alone.")
]


def minute(
    take: TakeArgument,
    seconds: SecondsOption = 60.0,
    click: ClickInOption = "none",
    first: FirstHandOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    picture: MinutePictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Count the single strokes of a minute.

    Says how even they are and whether they tire. The count begins at the first stroke. A
    shorter take is counted whole; its rate gives strokes a minute.
    """
    notes = midi_notes_of(midi_notes)
    check_places(json, report, picture, reads=(take,))
    heard = _minute_hear(take, seconds, click, first, notes)
    _minute_give(heard, json, report, picture)


def _minute_hear(
    take: Path,
    seconds: float,
    click: Literal["heard", "none"],
    first: Literal["R", "L"] | None,
    midi_notes: tuple[int, ...],
) -> HeardMinute:
    """Hear the take, with a line of progress where it is long."""
    from evenhand.media.decoder import warm_up

    warm_up(take)  # the decoder starts while the rest is loaded
    from evenhand.acts.takes.minute import MinuteRequest, hear_minute
    from evenhand.media.open_take import open_take

    asked = MinuteRequest(seconds, click, first)
    with shown(f"hearing {take.name}") as progress:
        return hear_minute(take, asked, opens=open_take, midi_notes=midi_notes, progress=progress)


def _minute_give(heard: HeardMinute, json: Path | None, report: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.acts.takes.minute import minute_text

        write_text(json, minute_text(heard))
    if report is not None or picture is not None:
        from evenhand.report.plots.minute import minute_drawing, minute_page

        if report is not None:
            write_text(report, minute_page(heard))
        if picture is not None:
            write_text(picture, minute_drawing(heard))
    if STDOUT not in {json, report, picture}:
        from evenhand.cli.tables.tests import say_minute as say

        say(heard)


CeilingPictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw how control falls with tempo.")
]


def ceiling(takes: ListArgument, json: JsonOption = None, picture: CeilingPictureOption = None) -> None:
    """Find the fastest tempo that is still in control.

    The list holds takes of one exercise at several tempos, or one take whose tempo steps up. It says which
    tempo to try next, and when it knows enough.
    """
    from evenhand.acts.takes.many import read_list

    listed = read_list(list_text(takes), name=takes.name, folder=takes.parent)
    check_places(json, picture, reads=(takes, *(each.path for each in listed)))
    from evenhand.acts.takes.ceiling import hear_ceiling
    from evenhand.media.open_take import open_take

    with shown(f"hearing {len(listed)} takes", total=len(listed)) as progress:
        found = hear_ceiling(listed, opens=open_take, progress=progress)
    _ceiling_give(found, json, picture)


def _ceiling_give(found: HeardCeiling, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    for reason in found.left_out:
        say_line(f"left out: {reason}")
    if json is not None:
        from json import dumps

        from evenhand.acts.takes.ceiling import ceiling_json

        write_text(json, dumps(ceiling_json(found), allow_nan=False, ensure_ascii=False, indent=1) + "\n")
    if picture is not None:
        from evenhand.acts.takes.ceiling import ceiling_drawing

        write_text(picture, ceiling_drawing(found.ceiling))
    if STDOUT not in {json, picture}:
        from evenhand.cli.tables.tests import say_ceiling as say

        say(found, picture=picture)
