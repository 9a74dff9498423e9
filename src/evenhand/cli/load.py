"""``evenhand load``: strokes and minutes a week, and sound exposure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.cli.progress import shown
from evenhand.errors import WrongOptions

if TYPE_CHECKING:  # brings numpy, which the help need not wait for
    from evenhand.application.show_load import ShownLoad
    from evenhand.domain.history import History

HistoryOption = Annotated[
    Path | None,
    typer.Option(
        "--history", metavar="DIR", exists=True, file_okay=False, help="The student's takes, with takes.csv."
    ),
]
PlanOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--plan",
        metavar="FILE.json",
        exists=True,
        dir_okay=False,
        help="A week's plan; given again for each week after it, in order.",
    ),
]
SoundOption = Annotated[
    list[str] | None,
    typer.Option(
        "--sound",
        metavar="L:M",
        help="A day's sound: dBA from a sound level meter, and minutes, such as 94:30; may be given again.",
    ),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all figures as JSON; - for stdout."),
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw the weeks as sticks of each hand.")
]


def load(
    history: HistoryOption = None,
    plan: PlanOption = None,
    sound: SoundOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
) -> None:
    """Count strokes and minutes of each hand a week.

    Says where the load jumps. From what was recorded, from what was assigned, or both; and how much of a
    day's sound a level uses up. A jump is a convention, never a diagnosis.
    """
    if picture is not None and history is None and not plan:
        raise WrongOptions(got="--picture without weeks to draw", must_be="with --history or --plan")
    check_places(json, picture, reads=(history and history / "takes.csv", *(plan or ())))
    from evenhand.application.plan_file import read_plan
    from evenhand.application.show_load import read_spells, show_load

    spells, plans = read_spells(sound or []), [read_plan(path) for path in plan or []]
    _give(show_load(_history(history), plans, spells), json, picture)


def _history(folder: Path | None) -> History | None:
    """Read the student's takes, hearing those that are new."""
    if folder is None:
        return None
    from evenhand.application.history import read_history
    from evenhand.media.open_take import open_take

    with shown(f"hearing what is new in {folder.name}") as progress:
        return read_history(folder, opens=open_take, progress=progress)


def _give(found: ShownLoad, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.application.figures_json import json_of
        from evenhand.application.show_load import load_json

        write_text(json, json_of(load_json(found)))
    if picture is not None:
        from evenhand.pages.load_picture import load_picture

        write_text(picture, load_picture(found.courses))
    if STDOUT not in {json, picture}:
        from evenhand.cli.load_summary import say

        say(found, picture=picture)
