"""``evenhand path``: the path's stages, and what a student's takes say of going on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.inputs import read_day, read_stages, students_takes
from evenhand.cli.options import HistoryOption, JsonOption, PathOption, PictureOption, UnitOption
from evenhand.cli.results import STDOUT, check_place, give
from evenhand.errors import CannotWrite, WrongOptions

if TYPE_CHECKING:
    from evenhand.progress.stages.path import PracticePath


WriteOption = Annotated[
    Path | None,
    typer.Option(
        "--write", metavar="FILE.toml", allow_dash=True, help="Write the path to edit; - for stdout."
    ),
]
StageOption = Annotated[
    str | None, typer.Option("--stage", metavar="STAGE", help="Where the student is, such as half.")
]
SinceOption = Annotated[
    str | None,
    typer.Option("--since", metavar="DATE", help="The day the stage began."),
]
UntilOption = Annotated[
    str | None,
    typer.Option("--until", metavar="DATE", help="The last day that counts; that of the newest take."),
]


def path(
    path_file: PathOption = None,
    write: WriteOption = None,
    history: HistoryOption = None,
    stage: StageOption = None,
    since: SinceOption = None,
    until: UntilOption = None,
    json: JsonOption = None,
    picture: PictureOption = None,
    unit: UnitOption = "in",
) -> None:
    """Show the path's stages, and where a student is.

    With a history it says what the takes show, proposes to go on, to stay or to go back, and
    says why. The teacher decides.
    """
    _check(write, history, stage, picture)
    for place in (write, json, picture):
        check_place(place)
    stages = read_stages(path_file)
    if write is not None:
        _write(write, stages)
    if history is not None and stage is not None:
        from evenhand.acts.weeks.advise import advice_text, advise_student
        from evenhand.report.plots.advice import advice_picture

        first, last = read_day(since), read_day(until)
        if stages.stage(stage) is None:
            must_be = f"one of {', '.join(each.name for each in stages.stages)}"
            raise WrongOptions(got=f"the stage {stage!r}", must_be=must_be)
        found = advise_student(students_takes(history), stages, stage, since=first, until=last)
        if give(
            (json, lambda: advice_text(found)),
            (picture, lambda: advice_picture(found.path, found.stage, found.advice)),
        ):
            from evenhand.cli.tables.weeks import say_advice

            say_advice(found, picture=picture)
    elif write is None or json is not None:
        from evenhand.acts.weeks.advise import path_text

        if give((json, lambda: path_text(stages))):
            from evenhand.cli.tables.weeks import say_path

            say_path(stages, stage, unit)


def _check(write: Path | None, history: Path | None, stage: str | None, picture: Path | None) -> None:
    """Refuse what does not go together."""
    if history is not None and stage is None:
        raise WrongOptions(got="--history without --stage", must_be="both: where the student is now")
    if picture is not None and history is None:
        raise WrongOptions(
            got="--picture without --history", must_be="both: the picture is of what was heard"
        )
    if write is not None and write != STDOUT and write.exists():
        raise CannotWrite(name=str(write), got="it is there already, and may have been edited")


def _write(place: Path, stages: PracticePath) -> None:
    from evenhand.acts.weeks.stages import path_to_toml

    if give((place, lambda: path_to_toml(stages))):
        typer.echo(f"The path is in {place}; use it with --path {place}")
