"""``evenhand export-studio``: a whole studio into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli.files import check_place
from evenhand.cli.progress import shown
from evenhand.cli.serve import data_folder
from evenhand.cli.studio_size import size_of

DataOption = Annotated[
    Path | None,
    typer.Option("--data", metavar="DIR", help="The studio's folder; your own data folder if not given."),
]
OutOption = Annotated[Path, typer.Option("--out", metavar="FILE.zip", help="Where the export goes.")]


def export_studio(out: OutOption, data: DataOption = None) -> None:
    """Write a whole studio to one file.

    It holds recordings, what was heard, students, weeks and the book. The file can be opened by a
    spreadsheet's user, and import-studio makes an equal studio of it. It holds what your students trusted
    you with: keep it as you keep the studio.
    """
    check_place(out)
    from evenhand.storage.studio import Studio

    with Studio.open(data or data_folder()) as studio:
        with shown(f"exporting {studio.facts.name}") as progress:
            studio.export_to(out, progress=progress)
        size = size_of(studio)
    typer.echo(f"{out}: {size}, {out.stat().st_size / 1e6:.1f} MB.")
