"""``evenhand progress``: how each hand changed over the weeks."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.files import STDOUT, check_place, write_text

if TYPE_CHECKING:  # brings numpy, which the help need not wait for
    from evenhand.domain.progress import StudentProgress

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
    from evenhand.application.show_progress import show_progress
    from evenhand.cli.path import read

    check_asked(exercise, wish)
    _give(show_progress(read(history), exercise=exercise, wish=wish), json, picture)


def check_asked(exercise: str | None, wish: str | None) -> None:
    """Refuse an exercise or a tempo that cannot be read before the takes are heard."""
    from evenhand.craft.text import parse_exercise
    from evenhand.domain.tempo import Tempo

    if exercise is not None:
        parse_exercise(exercise)
    if wish is not None:
        Tempo.parse(wish)


def _give(found: StudentProgress, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.application.show_progress import progress_text

        write_text(json, progress_text(found))
    if picture is not None:
        from evenhand.application.show_progress import progress_drawing

        write_text(picture, progress_drawing(found))
    if json != STDOUT:
        from evenhand.cli.progress_summary import say

        say(found, picture=picture)
