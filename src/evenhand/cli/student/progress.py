"""``evenhand progress``: how each hand changed; ``evenhand load``: strokes and minutes a week, and sound."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenhand.cli.inputs import students_takes
from evenhand.cli.options import HistoryOption, JsonOption, NeededHistoryOption, PictureOption
from evenhand.cli.results import check_places, give
from evenhand.errors import WrongOptions

ExerciseOption = Annotated[
    str | None,
    typer.Option("--exercise", metavar="TEXT", help="Only this exercise, such as '1/8: RLRR LRLL'."),
]
WishOption = Annotated[
    str | None,
    typer.Option("--wish", metavar="TEMPO", help="A tempo that the ceiling may reach, such as 1/8=140."),
]


def progress(
    history: NeededHistoryOption,
    exercise: ExerciseOption = None,
    wish: WishOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
) -> None:
    """Show how each hand changed over the weeks.

    Each exercise, measure and hand for itself: the change against chance, where it levels off, plateaus,
    and when the tempo ceiling may reach a wished tempo, or that it can't be told.
    """
    check_places(json, picture, reads=(history / "takes.csv",))
    from evenhand.acts.weeks.progress import progress_text, show_progress
    from evenhand.report.plots.progress import progress_picture

    check_asked(exercise, wish)
    found = show_progress(students_takes(history), exercise=exercise, wish=wish)
    if give((json, lambda: progress_text(found)), (picture, lambda: progress_picture(found))):
        from evenhand.cli.tables.weeks import say_progress

        say_progress(found, picture=picture)


def check_asked(exercise: str | None, wish: str | None) -> None:
    """Refuse an exercise or a tempo that cannot be read before the takes are heard."""
    from evenhand.music.exercise import Tempo
    from evenhand.music.text import parse_exercise

    if exercise is not None:
        parse_exercise(exercise)
    if wish is not None:
        Tempo.parse(wish)


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
    from evenhand.acts.documents import json_of
    from evenhand.acts.weeks.document import read_plan
    from evenhand.acts.weeks.load import load_json, read_spells, show_load
    from evenhand.report.plots.load import load_picture

    spells, plans = read_spells(sound or []), [read_plan(path) for path in plan or []]
    found = show_load(students_takes(history) if history else None, plans, spells)
    if give((json, lambda: json_of(load_json(found))), (picture, lambda: load_picture(found.loads))):
        from evenhand.cli.tables.load import say

        say(found, picture=picture)
