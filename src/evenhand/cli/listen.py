"""``evenhand listen``: hear one take.

``evenhand listen-all``: hear a whole list of takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.options import (
    BeginsAtOption,
    ClickOption,
    ExerciseOption,
    MidiNotesOption,
    TempoOption,
    midi_notes_of,
)
from evenhand.cli.results import STDOUT, check_places, make_folder, say_line, shown, write_text
from evenhand.errors import BadList, CannotHear, CannotWrite

if TYPE_CHECKING:
    from evenhand.acts.takes.many import ListedResult, ListedTake
    from evenhand.measuring.values import HeardTake


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
    asked = TakeRequest.read(exercise, tempo, click, begins_at_s=begins_at)
    notes = midi_notes_of(midi_notes)
    check_places(json, report, reads=(take,))
    heard = _hear(take, asked, notes)
    _give(heard, json, report)


def _hear(take: Path, asked: TakeRequest, midi_notes: tuple[int, ...]) -> HeardTake:
    """Hear the take, with a line of progress where it is long."""
    from evenhand.media.decoder import warm_up

    warm_up(take)  # the decoder starts while the rest is loaded
    from evenhand.acts.takes.hear import hear_take
    from evenhand.media.open_take import open_take

    with shown(f"hearing {take.name}") as progress:
        return hear_take(take, asked, opens=open_take, midi_notes=midi_notes, progress=progress)


def _give(heard: HeardTake, json: Path | None, report: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.acts.takes.document import json_text

        write_text(json, json_text(heard))
    if report is not None:
        from evenhand.report.take.report import report_text

        write_text(report, report_text(heard))
    if STDOUT not in {json, report}:
        from evenhand.cli.tables.take import say

        say(heard, report=report)


LARGEST_BYTES = 16_000_000

ListArgument = Annotated[
    Path,
    typer.Argument(
        metavar="LIST.csv",
        exists=True,
        dir_okay=False,
        help="Columns file,exercise,tempo[,click]; paths relative to the list.",
    ),
]
OutOption = Annotated[
    Path, typer.Option("--out", metavar="DIR", help="Where each take's figures go, as DIR/<stem>.json.")
]
JobsOption = Annotated[
    int | None, typer.Option("--jobs", metavar="N", min=1, help="How many at once; all cores if not given.")
]


def listen_all(
    takes: ListArgument,
    out: OutOption,
    jobs: JobsOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Hear a whole list of takes on all cores.

    One that cannot be heard does not stop the rest; it is named at the end, and the exit code is 3.
    """
    from evenhand.acts.takes.many import read_list

    notes = midi_notes_of(midi_notes)
    listed = read_list(list_text(takes), name=takes.name, folder=takes.parent)
    make_folder(out)
    failed = _listen_all_hear(listed, out, jobs, notes)
    typer.echo(f"{len(listed) - len(failed)} of {len(listed)} takes heard; their figures are in {out}")
    for one in failed:
        name, reason = one.listed.path.name, one.reason or ""
        say_line(f"row {one.listed.row}, {name}: {reason.removeprefix(f'{name}: ')}")
    if failed:
        raise typer.Exit(CannotHear.exit_code)


def list_text(path: Path) -> str:
    """Read the list as text."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise BadList(where=path.name, got=f"over {LARGEST_BYTES:,} bytes", must_be="a list of takes")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadList(where=path.name, got="bytes that are not text", must_be="CSV as UTF-8 text") from error
    except OSError as error:
        raise BadList(where=path.name, got=str(error.strerror), must_be="a file that can be read") from error


def _listen_all_hear(
    listed: Sequence[ListedTake], out: Path, jobs: int | None, midi_notes: tuple[int, ...]
) -> list[ListedResult]:
    """Hear all, write each as it comes, and return those that failed, in the list's order.

    One that fails leaves no file, not even an older one: what lies there was heard now.
    """
    from evenhand.acts.takes.many import hear_list
    from evenhand.media.open_take import open_take

    failed = []
    with shown(f"hearing {len(listed)} takes", total=len(listed)) as progress:
        heard = hear_list(listed, opens=open_take, jobs=jobs, midi_notes=midi_notes)
        for done, result in enumerate(heard, start=1):
            kept = _keep(result, out / f"{result.listed.stem}.json")
            if kept.json is None:
                failed.append(kept)
            progress(done)
    return sorted(failed, key=lambda result: result.listed.row)


def _keep(result: ListedResult, place: Path) -> ListedResult:
    """Write what was heard, or take away what lies there from before; say what became of it."""
    if result.json is None:
        with suppress(OSError):
            place.unlink(missing_ok=True)
        return result
    try:
        write_text(place, result.json)
    except CannotWrite as error:
        return replace(result, json=None, reason=str(error))
    return result
