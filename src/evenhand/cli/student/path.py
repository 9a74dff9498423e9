"""``evenhand path``: the path's stages, and what a student's takes say of going on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import UnitOption
from evenhand.cli.results import STDOUT, check_place, shown, write_text
from evenhand.errors import CannotWrite, WrongOptions
from evenhand.music.strokes.heights import Unit

if TYPE_CHECKING:
    from evenhand.acts.weeks.advise import StudentAdvice
    from evenhand.progress.history import History
    from evenhand.progress.stages.path import PracticePath


PathOption = Annotated[
    Path | None,
    typer.Option("--path", metavar="FILE.toml", exists=True, dir_okay=False, help="A path of your own."),
]
WriteOption = Annotated[
    Path | None,
    typer.Option(
        "--write", metavar="FILE.toml", allow_dash=True, help="Write the path to edit; - for stdout."
    ),
]
HistoryOption = Annotated[
    Path | None,
    typer.Option(
        "--history", metavar="DIR", exists=True, file_okay=False, help="The student's takes, with takes.csv."
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
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write all of it as JSON; - for stdout."),
]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw what was judged, with --history.")
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
    stages = _stages(path_file)
    if write is not None:
        _write(write, stages)
    if history is not None and stage is not None:
        from evenhand.acts.weeks.advise import advise_student, day_of

        first, last = day_of(since), day_of(until)
        if stages.stage(stage) is None:
            must_be = f"one of {', '.join(each.name for each in stages.stages)}"
            raise WrongOptions(got=f"the stage {stage!r}", must_be=must_be)
        found = advise_student(read(history), stages, stage, since=first, until=last)
        _give_advice(found, json, picture)
    elif write is None or json is not None:
        _give_path(stages, stage, unit, json)


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


def _stages(path_file: Path | None) -> PracticePath:
    if path_file is not None:
        from evenhand.acts.weeks.stages import read_path

        return read_path(path_file)
    from evenhand.progress.stages.path import COMMON_PATH

    return COMMON_PATH


def _write(place: Path, stages: PracticePath) -> None:
    from evenhand.acts.weeks.stages import path_to_toml

    write_text(place, path_to_toml(stages))
    if place != STDOUT:
        typer.echo(f"The path is in {place}; use it with --path {place}")


def read(folder: Path) -> History:
    """Read a student's takes, hearing those that are new."""
    from evenhand.acts.takes.history import read_history
    from evenhand.media.open_take import open_take

    with shown(f"hearing what is new in {folder.name}") as progress:
        return read_history(folder, opens=open_take, progress=progress)


def _give_advice(found: StudentAdvice, json: Path | None, picture: Path | None) -> None:
    """Write what was asked for, and say the rest in the terminal."""
    if json is not None:
        from evenhand.acts.weeks.advise import advice_text

        write_text(json, advice_text(found))
    if picture is not None:
        from evenhand.report.plots.advice import advice_picture

        write_text(picture, advice_picture(found.path, found.stage, found.advice))
    if json != STDOUT:
        from evenhand.cli.tables.weeks import say_advice

        say_advice(found, picture=picture)


def _give_path(stages: PracticePath, stage: str | None, unit: Unit, json: Path | None) -> None:
    if json is not None:
        from evenhand.acts.weeks.advise import path_text

        write_text(json, path_text(stages))
    if json != STDOUT:
        from evenhand.cli.tables.weeks import say_path

        say_path(stages, stage, unit)
