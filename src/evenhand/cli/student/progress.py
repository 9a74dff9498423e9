"""``evenhand progress``: how each hand changed over the weeks.

``evenhand load``: strokes and minutes a week, and sound exposure.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.results import STDOUT, check_place, check_places, shown, write_text
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.weeks.load import LoadFigures
    from evenhand.progress.history import History
    from evenhand.progress.trends.values import StudentProgress


HistoryOption = Annotated[
    Path,
    typer.Option(
        "--history", metavar="DIR", exists=True, file_okay=False, help="The student's takes, with takes.csv."
    ),
]
ExerciseOption = Annotated[
    str | None,
    typer.Option("--exercise", metavar="TEXT", help="Only this exercise, such as '1/8: RLRR LRLL'."),
]
WishOption = Annotated[
    str | None,
    typer.Option("--wish", metavar="TEMPO", help="A tempo that the ceiling may reach, such as 1/8=140."),
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all figures as JSON; - for stdout."),
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw the weeks as small charts.")
]


def progress(
    history: HistoryOption,
    exercise: ExerciseOption = None,
    wish: WishOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
) -> None:
    """Show how each hand changed over the weeks.

    Each exercise, measure and hand for itself: the change against chance, where it levels off, plateaus,
    and when the tempo ceiling may reach a wished tempo, or that it can't be told.
    """
    for place in (json, picture):
        check_place(place)
    from evenhand.acts.weeks.progress import show_progress
    from evenhand.cli.student.path import read

    check_asked(exercise, wish)
    _give(show_progress(read(history), exercise=exercise, wish=wish), json, picture)


def check_asked(exercise: str | None, wish: str | None) -> None:
    """Refuse an exercise or a tempo that cannot be read before the takes are heard."""
    from evenhand.music.exercise import Tempo
    from evenhand.music.text import parse_exercise

    if exercise is not None:
        parse_exercise(exercise)
    if wish is not None:
        Tempo.parse(wish)


def _give(found: StudentProgress, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.acts.weeks.progress import progress_text

        write_text(json, progress_text(found))
    if picture is not None:
        from evenhand.report.plots.progress import progress_picture

        write_text(picture, progress_picture(found))
    if json != STDOUT:
        from evenhand.cli.tables.weeks import say_progress as say

        say(found, picture=picture)


LoadHistoryOption = Annotated[
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
LoadPictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw the weeks as sticks of each hand.")
]


def load(
    history: LoadHistoryOption = None,
    plan: PlanOption = None,
    sound: SoundOption = None,
    json: JsonOption = None,
    picture: LoadPictureOption = None,
) -> None:
    """Count strokes and minutes of each hand a week.

    Says where the load jumps. From what was recorded, from what was assigned, or both; and how much of a
    day's sound a level uses up. A jump is a convention, never a diagnosis.
    """
    if picture is not None and history is None and not plan:
        raise WrongOptions(got="--picture without weeks to draw", must_be="with --history or --plan")
    check_places(json, picture, reads=(history and history / "takes.csv", *(plan or ())))
    from evenhand.acts.weeks.document import read_plan
    from evenhand.acts.weeks.load import read_spells, show_load

    spells, plans = read_spells(sound or []), [read_plan(path) for path in plan or []]
    _load_give(show_load(_history(history), plans, spells), json, picture)


def _history(folder: Path | None) -> History | None:
    """Read the student's takes, hearing those that are new."""
    if folder is None:
        return None
    from evenhand.acts.takes.history import read_history
    from evenhand.media.open_take import open_take

    with shown(f"hearing what is new in {folder.name}") as progress:
        return read_history(folder, opens=open_take, progress=progress)


def _load_give(found: LoadFigures, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.acts.documents import json_of
        from evenhand.acts.weeks.load import load_json

        write_text(json, json_of(load_json(found)))
    if picture is not None:
        from evenhand.report.plots.load import load_picture

        write_text(picture, load_picture(found.loads))
    if STDOUT not in {json, picture}:
        from evenhand.cli.tables.load import say

        say(found, picture=picture)
