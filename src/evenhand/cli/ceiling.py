"""``evenhand ceiling``: the fastest tempo at which an exercise is still in control."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.cli.listen_all import ListArgument, list_text
from evenhand.cli.progress import shown
from evenhand.cli.stderr import say_line

if TYPE_CHECKING:  # brings numpy, which the help need not wait for
    from evenhand.application.hear_ceiling import HeardCeiling

JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all figures as JSON; - for stdout."),
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw how control falls with tempo.")
]


def ceiling(takes: ListArgument, json: JsonOption = None, picture: PictureOption = None) -> None:
    """Find the fastest tempo that is still in control.

    The list holds takes of one exercise at several tempos, or one take whose tempo steps up. It says which
    tempo to try next, and when it knows enough.
    """
    from evenhand.application.take_list import read_list

    listed = read_list(list_text(takes), name=takes.name, folder=takes.parent)
    check_places(json, picture, reads=(takes, *(each.path for each in listed)))
    from evenhand.application.hear_ceiling import hear_ceiling
    from evenhand.media.open_take import open_take

    with shown(f"hearing {len(listed)} takes", total=len(listed)) as progress:
        found = hear_ceiling(listed, opens=open_take, progress=progress)
    _give(found, json, picture)


def _give(found: HeardCeiling, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    for reason in found.left_out:
        say_line(f"left out: {reason}")
    if json is not None:
        from json import dumps

        from evenhand.application.hear_ceiling import ceiling_json

        write_text(json, dumps(ceiling_json(found), allow_nan=False, ensure_ascii=False, indent=1) + "\n")
    if picture is not None:
        from evenhand.application.hear_ceiling import ceiling_drawing

        write_text(picture, ceiling_drawing(found.ceiling))
    if STDOUT not in {json, picture}:
        from evenhand.cli.ceiling_summary import say

        say(found, picture=picture)
