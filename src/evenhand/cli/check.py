"""``evenhand check``: a studio's rows, files and hashes held against each other."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.progress import shown
from evenhand.cli.serve import NAME, data_folder, new_password
from evenhand.cli.studio_size import counted, size_of

if TYPE_CHECKING:  # brings the database, which the help need not wait for
    from evenhand.storage.checking import Checked, Unsound
    from evenhand.storage.studio import Studio

NOT_WELL = 3
MOST_SAID = 20

DataOption = Annotated[
    Path | None,
    typer.Option("--data", metavar="DIR", help="The studio's folder; your own data folder if not given."),
]
RepairOption = Annotated[
    bool,
    typer.Option(
        "--repair", help="Make takes again of recordings that have none. Nothing is deleted; see the docs."
    ),
]


def check(data: DataOption = None, repair: RepairOption = False) -> None:  # noqa: FBT002 - a switch
    """Check that everything in a studio is there.

    Looks at rows, recordings and their hashes: whether each is as it came in. It may run while the studio
    is open. The exit code is 3 where something is missing, damaged, or without its take. Where the database
    is lost, --repair makes a new studio of the recordings.
    """
    folder = data or data_folder()
    with _opened(folder, repair=repair) as studio:
        if repair:
            with shown("putting right") as progress:
                done = studio.repair(progress)
            typer.echo(
                f"{counted(done.found, 'take')} made again from recordings, {done.nobodys} of them without a "
                f"student; {counted(done.mended, 'take')} given back the recording."
            )
        with shown("reading every recording") as progress:
            checked = studio.check(progress)
        _say(folder, studio, checked)
    if not checked.is_well:
        raise typer.Exit(NOT_WELL)


def _opened(folder: Path, *, repair: bool) -> Studio:
    """Open the studio; to be repaired, one without a database gets a new one."""
    from evenhand.errors import StudioDamaged, StudioLost
    from evenhand.storage.studio import Studio

    try:
        studio = Studio.open(folder)
        with studio.closed_by_an_error():
            studio.hold_together()
    except StudioLost as lost:
        if not repair:
            raise
        typer.echo(f"{folder}: a new database is made for {counted(lost.recordings, 'recording')}.")
    except StudioDamaged:
        if not repair:
            raise
        place = Studio.set_database_aside(folder)
        typer.echo(f"The damaged database is set aside in {place}; a new one is made.")
    else:
        return studio
    return Studio.create(folder, name=NAME, password=new_password(), of_recordings=True)


def _say(folder: Path, studio: Studio, checked: Checked) -> None:
    """Say what was found."""
    size = f"{counted(checked.recordings, 'recording')}, {checked.n_bytes / 1e6:.1f} MB"
    typer.echo(f"{folder}: {studio.facts.name}, {size_of(studio)}, {size}.")
    names = {each.id: each.name for each in (*studio.students(), *studio.students(archived=True))}
    for unsound in checked.unsound[:MOST_SAID]:
        typer.echo(_unsound_words(unsound, names))
    if len(checked.unsound) > MOST_SAID:
        typer.echo(f"... and {len(checked.unsound) - MOST_SAID} more.")
    if checked.left:
        typer.echo(
            f"Without a take: {counted(len(checked.left), 'recording')}. "
            f"evenhand check --data {folder} --repair makes takes of them again."
        )
    for place, n, until in checked.aside:
        typer.echo(f"Set aside, kept until {until}: {counted(n, 'recording')} in {place}.")
    if checked.is_well:
        typer.echo("Every take has its recording, as it came in.")


def _unsound_words(unsound: Unsound, names: dict[str, str]) -> str:
    """Say which take lacks its recording."""
    take = unsound.take
    what = "damaged" if unsound.damaged else "missing"
    whose = names.get(take.student_id, "nobody")
    when = take.recorded_at.astimezone()
    return f"{what.capitalize()}: {whose}, {when:%Y-%m-%d %H:%M}, {take.exercise or 'blind'}: {unsound.key}"
