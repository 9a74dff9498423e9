"""``evenhand backup``: the database and the recordings of one instant as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli.files import check_place
from evenhand.cli.progress import shown
from evenhand.cli.serve import data_folder
from evenhand.cli.studio_size import counted, size_of

DataOption = Annotated[
    Path | None,
    typer.Option("--data", metavar="DIR", help="The studio's folder; your own data folder if not given."),
]
OutOption = Annotated[Path, typer.Option("--out", metavar="FILE.zip", help="Where the backup goes.")]


def backup(out: OutOption, data: DataOption = None) -> None:
    """Back up a whole studio to one file while it runs.

    All of it is of one instant; evenhand restore puts it back. It holds what your students trusted you with,
    and still has those you erase later: keep it as safe as the studio, and delete it when it is out of date.
    """
    check_place(out)
    from evenhand.storage.studio import Studio

    with Studio.open(data or data_folder()) as studio:
        with shown(f"backing up {studio.facts.name}") as progress:
            done = studio.back_up(out, progress=progress)
        size = size_of(studio)
    said = f"{size}, {counted(done.recordings, 'recording')}, {out.stat().st_size / 1e6:.1f} MB"
    typer.echo(f"{out}: {said}.")
    if done.missing:
        lost = counted(len(done.missing), "recording")
        typer.echo(f"Missing or damaged, so not in it: {lost}. evenhand check says which.")
