"""``evenhand restore``: a studio out of a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli.serve import data_folder
from evenhand.cli.studio_size import counted, size_of

FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE.zip", exists=True, dir_okay=False, help="What backup wrote.")
]
DataOption = Annotated[
    Path | None,
    typer.Option("--data", metavar="DIR", help="The studio's folder; your own data folder if not given."),
]


def restore(file: FileArgument, data: DataOption = None) -> None:
    """Put a backup back in the studio's place.

    It is unpacked and tried out first. The database that was there before is set aside for 30 days;
    recordings newer than the backup stay, and evenhand check --repair makes takes of them again. End evenhand
    serve first. Password and links are those of the backup; everybody logs in again.
    """
    from evenhand.storage.studio import Studio

    folder = data or data_folder()
    done = Studio.restore_from(file, folder)
    with Studio.open(folder) as studio:
        studio.sweep()
        newer = studio.without_take()
        typer.echo(f"{folder}: {studio.facts.name}, {size_of(studio)}, as of {done.moment}.")
    if done.before is not None:
        typer.echo(f"The database that was there before is set aside in {done.before} for 30 days.")
    if newer:
        typer.echo(
            f"Not in the backup: {counted(newer, 'recording')}. "
            f"evenhand check --data {folder} --repair makes takes of them again."
        )
