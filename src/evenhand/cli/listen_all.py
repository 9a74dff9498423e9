"""``evenhand listen-all``: hear a whole list of takes."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.files import make_folder, write_text
from evenhand.cli.options import MidiNotesOption, midi_notes_of
from evenhand.cli.progress import shown
from evenhand.cli.stderr import say_line
from evenhand.errors import BadList, CannotHear, CannotWrite

if TYPE_CHECKING:  # these bring numpy, which the help need not wait for
    from evenhand.application.hear_list import ListedResult
    from evenhand.application.take_list import ListedTake

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
    from evenhand.application.take_list import read_list

    notes = midi_notes_of(midi_notes)
    listed = read_list(list_text(takes), name=takes.name, folder=takes.parent)
    make_folder(out)
    failed = _hear(listed, out, jobs, notes)
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


def _hear(
    listed: Sequence[ListedTake], out: Path, jobs: int | None, midi_notes: tuple[int, ...]
) -> list[ListedResult]:
    """Hear all, write each as it comes, and return those that failed, in the list's order.

    One that fails leaves no file, not even an older one: what lies there was heard now.
    """
    from evenhand.application.hear_list import hear_list
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
