"""Tests of one student: drops of the stick, the single strokes of a minute, the tempo ceiling."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from evenhand.cli.inputs import hearing, listed_takes, read_text
from evenhand.cli.options import (
    JsonOption,
    ListArgument,
    MidiNotesOption,
    PictureOption,
    ReportOption,
    TakeArgument,
    UnitOption,
    midi_notes_of,
)
from evenhand.cli.results import check_places, give, say_line, shown
from evenhand.errors import BadList, WrongOptions

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
    with hearing(take) as progress:
        from evenhand.acts.takes.bounce import bounce_text, hear_bounce
        from evenhand.media.open_take import open_take
        from evenhand.report.plots.bounce import bounce_drawing, bounce_page

        heard = hear_bounce(take, labels, opens=open_take, midi_notes=notes, progress=progress)
    if give(
        (json, lambda: bounce_text(heard)),
        (report, lambda: bounce_page(heard, unit)),
        (picture, lambda: bounce_drawing(heard)),
    ):
        from evenhand.cli.tables.tests import say_bounce

        say_bounce(heard, unit)


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
        text = read_text(table, error=BadList, must_be="a table of the drops as CSV")
        return table_labels(text, table.name)
    return ()


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
    with hearing(take) as progress:
        from evenhand.acts.takes.minute import MinuteRequest, hear_minute, minute_text
        from evenhand.media.open_take import open_take
        from evenhand.report.plots.minute import minute_drawing, minute_page

        asked = MinuteRequest(seconds, click, first)
        heard = hear_minute(take, asked, opens=open_take, midi_notes=notes, progress=progress)
    if give(
        (json, lambda: minute_text(heard)),
        (report, lambda: minute_page(heard)),
        (picture, lambda: minute_drawing(heard)),
    ):
        from evenhand.cli.tables.tests import say_minute

        say_minute(heard)


def ceiling(takes: ListArgument, json: JsonOption = None, picture: PictureOption = None) -> None:
    """Find the fastest tempo that is still in control.

    The list holds takes of one exercise at several tempos, or one take whose tempo steps up. It says which
    tempo to try next, and when it knows enough.
    """
    listed = listed_takes(takes)
    check_places(json, picture, reads=(takes, *(each.path for each in listed)))
    from evenhand.acts.documents import json_of
    from evenhand.acts.takes.ceiling import ceiling_drawing, ceiling_json, hear_ceiling
    from evenhand.media.open_take import open_take

    with shown(f"hearing {len(listed)} takes", total=len(listed)) as progress:
        found = hear_ceiling(listed, opens=open_take, progress=progress)
    for reason in found.left_out:
        say_line(f"left out: {reason}")
    if give((json, lambda: json_of(ceiling_json(found))), (picture, lambda: ceiling_drawing(found.ceiling))):
        from evenhand.cli.tables.tests import say_ceiling

        say_ceiling(found, picture=picture)
