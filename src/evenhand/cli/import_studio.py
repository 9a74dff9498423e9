"""``evenhand import-studio``: a studio out of an export."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli.serve import data_folder
from evenhand.cli.studio_size import size_of

FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE.zip", exists=True, dir_okay=False, help="What export-studio wrote.")
]
DataOption = Annotated[
    Path | None,
    typer.Option(
        "--data",
        metavar="DIR",
        help="The new studio's folder, empty or not there yet; your own data folder if not given.",
    ),
]


def import_studio(file: FileArgument, data: DataOption = None) -> None:
    """Make a studio of an exported file.

    It equals the one that was exported. The teacher's password and the students' links work as before;
    everybody signs in anew. A file that is not whole is refused, and nothing is left behind.
    """
    from evenhand.storage.studio import Studio

    folder = data or data_folder()
    with Studio.import_from(file, folder) as studio:
        typer.echo(f"{folder}: {studio.facts.name}, {size_of(studio)}.")
