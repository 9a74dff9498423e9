"""``evenhand hear-folder``: up to ten thousand recordings heard, to files, or into a studio as takes."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.listen import JobsOption, keep_result
from evenhand.cli.options import (
    LIST_BYTES,
    ClickOption,
    DataOption,
    ExerciseOption,
    MidiNotesOption,
    TempoOption,
    midi_notes_of,
    read_text,
)
from evenhand.cli.results import BatchLine, make_folder, say_line, shown
from evenhand.cli.studio.batch import LOOKS_S, WorkersOption, hearing_here
from evenhand.cli.studio.serve import data_folder
from evenhand.cli.studio.settings import DatabaseOption, ObjectsOption, StudioOption, backing_of
from evenhand.errors import BadList, CannotHear, WrongOptions
from evenhand.report.words.figures import count

if TYPE_CHECKING:
    from evenhand.acts.takes.folder import FolderTake, Journal
    from evenhand.acts.takes.many import ListedTake
    from evenhand.studio.store.studio import Studio

MOST_NAMED = 20

FolderArgument = Annotated[
    Path,
    typer.Argument(
        metavar="DIR", exists=True, file_okay=False, help="The recordings; list.csv in it says what each is."
    ),
]
ResultsOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", file_okay=False, help="Each take's figures, and all in heard.csv."),
]
AfreshOption = Annotated[
    bool, typer.Option("--afresh", help="Hear all of them, also those that an earlier run has heard.")
]


def hear_folder(
    folder: FolderArgument,
    out: ResultsOption = None,
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    studio: StudioOption = None,
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    click: ClickOption = "auto",
    jobs: JobsOption = None,
    workers: WorkersOption = 1,
    midi_notes: MidiNotesOption = "37,38,40",
    afresh: AfreshOption = False,  # noqa: FBT002 - a switch
) -> None:
    """Hear a folder of up to 10,000 recordings.

    To files with --out, or into a studio with --data or --database.
    The list in the folder, list.csv, has the columns file,exercise,tempo and, if wanted, click, student,
    stroke, recorded; a studio needs the student. Without a list, --exercise and --tempo are those of all.
    Broken off, run it again and it goes on. A recording that cannot be heard is named at the end, and stops
    nothing; the exit code is 3 then.
    """
    if (out is None) == (data is None and database is None):
        must_be = "one of them: files, or takes of a studio"
        raise WrongOptions(got="--out and --data or --database, or none of them", must_be=must_be)
    takes = _takes(folder, TakeRequest.read(exercise, tempo, click))
    if out is not None:
        _to_files(takes, out, jobs, midi_notes_of(midi_notes), afresh=afresh)
        return
    from evenhand.studio.store.studio import Studio

    place = data or data_folder()
    backing = backing_of(place, database, objects, studio)
    with Studio.open(place, backing=backing) as kept:
        ids = _taken_in(kept, takes)
        with hearing_here(place, backing, workers):
            _wait(kept, ids)
        _say_of_studio(kept, ids)


def _takes(folder: Path, request: TakeRequest) -> Sequence[FolderTake]:
    """Read what is in a folder: by its list, or all of one exercise."""
    from evenhand.acts.takes.folder import LIST, folder_takes, read_folder_list

    place = folder / LIST
    if not place.is_file():
        return folder_takes(folder, request)
    if request.exercise is not None:
        raise WrongOptions(got=f"--exercise, and {place}", must_be="one of them: the list says what each is")
    text = read_text(place, error=BadList, must_be="a list of takes as CSV", largest_bytes=LIST_BYTES)
    return read_folder_list(text, name=LIST, folder=folder)


def _to_files(
    takes: Sequence[FolderTake], out: Path, jobs: int | None, notes: tuple[int, ...], *, afresh: bool
) -> None:
    """Hear what is not heard yet, write each result as it comes, and the table at the end."""
    from evenhand.acts.takes.folder import TABLE, Journal

    make_folder(out)
    journal = Journal(out, afresh=afresh)
    left = [take.listed for take in takes if journal.known(take.listed) is None]
    if len(left) < len(takes):
        say_line(f"{count(len(takes) - len(left), 'take')} of an earlier run; {len(left):,} to be heard")
    try:
        _hear(left, journal, out, jobs, notes)
    finally:
        failed = _write_table(takes, journal, out)
    typer.echo(f"{len(takes) - len(failed):,} of {count(len(takes), 'take')} heard; all are in {out / TABLE}")
    _name_failed(failed)


def _hear(
    left: Sequence[ListedTake], journal: Journal, out: Path, jobs: int | None, notes: tuple[int, ...]
) -> None:
    from evenhand.acts.takes.many import LONGEST_S, hear_list
    from evenhand.media.open_take import open_take

    weigh = _bytes_of if len({take.path.suffix.lower() for take in left}) == 1 else _alike
    with journal.open() as file, BatchLine("heard", len(left), sum(map(weigh, left))) as line:
        for result in hear_list(left, opens=open_take, jobs=jobs, midi_notes=notes, longest_s=LONGEST_S):
            journal.note(file, keep_result(result, out / f"{result.listed.stem}.json"))
            line.add(weigh(result.listed))


def _alike(_take: ListedTake) -> float:
    return 1.0


def _bytes_of(take: ListedTake) -> float:
    """Weigh a recording: among those of one kind the longer one has more bytes."""
    return float(take.path.stat().st_size) if take.path.is_file() else 0.0


def _write_table(takes: Sequence[FolderTake], journal: Journal, out: Path) -> list[tuple[str, str]]:
    """Write all takes as a table; list those that could not be heard, each with its reason."""
    import csv
    import io

    from evenhand.acts.takes.folder import COLUMNS, TABLE, table_rows
    from evenhand.studio.safekeeping.form import written_whole
    from evenhand.studio.whole.table import csv_cell

    failed = list[tuple[str, str]]()
    with written_whole(out / TABLE) as whole, shown(f"writing {TABLE}", total=len(takes)) as progress:
        text = io.TextIOWrapper(whole, "utf-8", newline="")
        writer = csv.DictWriter(text, COLUMNS)
        writer.writeheader()
        for number, row in enumerate(table_rows(takes, journal, out), start=1):
            progress(number)
            writer.writerow({name: csv_cell(value) for name, value in row.items()})
            if row["status"] == "failed":
                failed.append((str(row["file"]), str(row["reason"])))
        text.detach()
    return failed


def _name_failed(failed: Sequence[tuple[str, str]]) -> None:
    """Name what could not be heard, and end with its code."""
    for name, reason in failed[:MOST_NAMED]:
        say_line(f"{name}: {reason.removeprefix(f'{name}: ')}")
    if len(failed) > MOST_NAMED:
        say_line(f"and {len(failed) - MOST_NAMED:,} more that could not be heard")
    if failed:
        raise typer.Exit(CannotHear.exit_code)


def _taken_in(studio: Studio, takes: Sequence[FolderTake]) -> list[str]:
    """Take all in, behind whoever practises; what is there already is left as it is."""
    from evenhand.studio.whole.folder import take_in

    with shown("taking in") as progress:
        ids, new = take_in(studio, takes, progress)
    typer.echo(f"{new:,} of {count(len(takes), 'take')} new in the studio; the others were there.", err=True)
    return ids


def _wait(studio: Studio, ids: Sequence[str]) -> None:
    """Wait until all is heard; show how far it is."""
    from evenhand.studio.whole.folder import still_waiting

    left = still_waiting(studio, ids)
    with BatchLine("heard", len(left), float(len(left))) as line:
        while left:
            time.sleep(LOOKS_S)
            now = still_waiting(studio, left)
            for _ in range(len(left) - len(now)):
                line.add(1.0)
            line.show()
            left = now


def _say_of_studio(studio: Studio, ids: Sequence[str]) -> None:
    """Say how many takes were heard, and name the others."""
    from evenhand.studio.whole.folder import failed_among

    failed = failed_among(studio, ids)
    heard = len(ids) - len(failed)
    typer.echo(f"{heard:,} of {count(len(ids), 'take')} heard; they are with their students.")
    _name_failed(failed)
